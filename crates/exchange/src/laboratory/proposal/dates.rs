//! How a column writes its dates, and whether the day or the month comes first.

use jiff::civil::{Date, DateTime, Time};

use crate::when::DateFormat;

/// Formats in the order in which they are looked for: exact ones before lenient ones.
const FORMATS: [&str; 43] = [
    "YYYY-MM-DD hh:mm:ss",
    "YYYY-MM-DD hh:mm",
    "YYYY-MM-DDThh:mm:ss",
    "YYYY-MM-DDThh:mm",
    "YYYY-MM-DDThh:mm:sszone",
    "YYYY-MM-DD",
    "YYYY/MM/DD hh:mm:ss",
    "YYYY/MM/DD hh:mm",
    "YYYY/MM/DD",
    "YYYYMMDDhhmmss",
    "YYYYMMDDhhmm",
    "YYYYMMDD",
    "DD.MM.YYYY hh:mm:ss",
    "DD.MM.YYYY hh:mm",
    "DD.MM.YYYY",
    "D.M.YYYY h:mm:ss",
    "D.M.YYYY h:mm",
    "D.M.YYYY",
    "D.M.YY h:mm",
    "D.M.YY",
    "DD/MM/YYYY hh:mm:ss",
    "DD/MM/YYYY hh:mm",
    "DD/MM/YYYY",
    "D/M/YYYY h:mm",
    "D/M/YYYY",
    "D/M/YY h:mm",
    "D/M/YY",
    "MM/DD/YYYY hh:mm:ss",
    "MM/DD/YYYY hh:mm",
    "MM/DD/YYYY",
    "M/D/YYYY h:mm:ss pm",
    "M/D/YYYY h:mm pm",
    "M/D/YYYY h:mm",
    "M/D/YYYY",
    "M/D/YY h:mm",
    "M/D/YY",
    "DD-MM-YYYY hh:mm:ss",
    "DD-MM-YYYY hh:mm",
    "DD-MM-YYYY",
    "DD-MON-YYYY hh:mm",
    "DD-MON-YYYY",
    "DD MON YYYY hh:mm",
    "DD MON YYYY",
];

/// Times of day alone.
const TIMES: [&str; 5] = ["hh:mm:ss", "hh:mm", "h:mm", "h:mm pm", "hh.mm"];

/// How often each format fits the cells of a column.
#[derive(Debug, Clone)]
pub(super) struct Clock {
    fits: Vec<(DateFormat, usize)>,
    time_fits: Vec<(DateFormat, usize)>,
    read: usize,
    timed: usize,
    times: usize,
    cells: usize,
    future: usize,
    /// Cells that fit with the day first only, and with the month first only.
    day_first: usize,
    month_first: usize,
    either: usize,
}

impl Default for Clock {
    fn default() -> Self {
        let format = |written: &str| DateFormat::new(written).ok();
        Self {
            fits: FORMATS.iter().filter_map(|written| Some((format(written)?, 0))).collect(),
            time_fits: TIMES.iter().filter_map(|written| Some((format(written)?, 0))).collect(),
            read: 0,
            timed: 0,
            times: 0,
            cells: 0,
            future: 0,
            day_first: 0,
            month_first: 0,
            either: 0,
        }
    }
}

/// Whether the day or the month stands first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Order {
    /// Nothing to ask: the year stands first, or the month is a name, or a dot parts them.
    Settled,
    /// Some cells can only be read with the day first.
    DayFirst,
    /// Some cells can only be read with the month first.
    MonthFirst,
    /// Every cell can be read both ways.
    NotKnown,
    /// Some cells only one way and some only the other.
    Contradictory,
}

impl Clock {
    pub(super) fn add_cell(&mut self, at: DateTime, today: Date) {
        self.cells += 1;
        self.read += 1;
        self.timed += usize::from(at.time() != Time::MIN);
        self.future += usize::from(at.date() > today);
    }

    pub(super) fn add(&mut self, text: &str, today: Date) {
        if !text.starts_with(|c: char| c.is_ascii_digit()) || text.len() > 32 || text.len() < 4 {
            return;
        }
        let (mut read, mut timed, mut day, mut month) = (None, false, false, false);
        for (format, fits) in &mut self.fits {
            let Some(when) = format.read(text).filter(|when| (1900..2300).contains(&when.date.year())) else {
                continue;
            };
            *fits += 1;
            read = read.or(Some(when.date));
            // A day that is written with midnight beside it has no time of day.
            timed |= when.time.is_some_and(|time| time != Time::MIN);
            day |= format.written().starts_with('D') && format.written().contains('/');
            month |= format.written().starts_with('M') && format.written().contains('/');
        }
        if let Some(date) = read {
            self.read += 1;
            self.timed += usize::from(timed);
            self.future += usize::from(date > today);
        }
        match (day, month) {
            (true, false) => self.day_first += 1,
            (false, true) => self.month_first += 1,
            (true, true) => self.either += 1,
            (false, false) => {}
        }
        let mut is_time = false;
        for (format, fits) in &mut self.time_fits {
            if format.read_time(text).is_some() {
                *fits += 1;
                is_time = true;
            }
        }
        self.times += usize::from(is_time);
    }

    pub(super) fn dates(&self) -> usize {
        self.read
    }

    pub(super) fn timed(&self) -> usize {
        self.timed
    }

    pub(super) fn times(&self) -> usize {
        self.times
    }

    pub(super) fn future(&self) -> usize {
        self.future
    }

    pub(super) fn order(&self) -> Order {
        match (self.day_first, self.month_first, self.either) {
            (0, 0, 0) => Order::Settled,
            (0, 0, _) => Order::NotKnown,
            (_, 0, _) => Order::DayFirst,
            (0, _, _) => Order::MonthFirst,
            _ => Order::Contradictory,
        }
    }

    /// The fewest formats that read every date of the column, the one that reads most first.
    pub(super) fn formats(&self, month_first: bool) -> Vec<String> {
        let wrong = if month_first { 'D' } else { 'M' };
        let usable = |written: &str| !(written.contains('/') && written.starts_with(wrong));
        let mut chosen: Vec<(String, usize)> = Vec::new();
        let mut left = self.read - self.cells;
        let mut fits: Vec<_> =
            self.fits.iter().filter(|(format, n)| *n > 0 && usable(format.written())).collect();
        // A stable order: of two that read as many, the exact one stands first in the list.
        fits.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
        for (format, n) in fits {
            if left == 0 {
                break;
            }
            // A lenient form of one that was chosen reads the same cells again.
            let again = chosen.iter().any(|(_, before)| before == n && *n > left);
            if !again {
                chosen.push((format.written().to_owned(), *n));
                left = left.saturating_sub(*n);
            }
        }
        chosen.into_iter().map(|(written, _)| written).collect()
    }

    /// The format that reads most times of day.
    pub(super) fn time_format(&self) -> Option<String> {
        let best = self.time_fits.iter().filter(|(_, n)| *n > 0).max_by_key(|(_, n)| *n)?;
        let first = self.time_fits.iter().find(|(_, n)| n == &best.1)?;
        Some(first.0.written().to_owned())
    }
}
