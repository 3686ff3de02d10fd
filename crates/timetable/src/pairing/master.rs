//! A small linear program, solved by the simplex method with columns that come one by one.

/// One column: what it brings, and its entries by row.
#[derive(Debug, Clone)]
pub(super) struct LpColumn {
    pub(super) gain: f64,
    pub(super) entries: Vec<(usize, f64)>,
}

/// Maximise the gains of columns taken 0 or more times, rows made to equal their right-hand sides.
///
/// The inverse of the basis is kept whole: there are a few dozen rows. What comes out of it is only ever used as prices, and a
/// bound is worked out anew from those, so rounding here can make a bound weaker but never wrong.
#[derive(Debug, Clone)]
pub(super) struct Simplex {
    n_rows: usize,
    columns: Vec<LpColumn>,
    /// Column of each row of the basis.
    basis: Vec<usize>,
    /// By rows.
    inverse: Vec<f64>,
    values: Vec<f64>,
    prices: Vec<f64>,
}

/// What counts as nothing.
const NIL: f64 = 1e-9;

impl Simplex {
    /// A program whose first basis is these columns, one unit column for each row; right-hand sides 0 or more.
    pub(super) fn new(right: &[f64], first: Vec<LpColumn>) -> Simplex {
        let n_rows = right.len();
        let mut inverse = vec![0.0; n_rows * n_rows];
        (0..n_rows).for_each(|row| inverse[row * n_rows + row] = 1.0);
        let mut simplex = Simplex {
            n_rows,
            basis: (0..n_rows).collect(),
            values: right.to_vec(),
            prices: vec![0.0; n_rows],
            columns: first,
            inverse,
        };
        simplex.price();
        simplex
    }

    /// What a unit of each right-hand side is worth.
    pub(super) fn prices(&self) -> &[f64] {
        &self.prices
    }

    /// What the columns taken bring.
    pub(super) fn value(&self) -> f64 {
        self.basis.iter().zip(&self.values).map(|(column, value)| self.columns[*column].gain * value).sum()
    }

    /// Columns taken, and how often.
    pub(super) fn taken(&self) -> impl Iterator<Item = (usize, f64)> {
        self.basis.iter().copied().zip(self.values.iter().copied()).filter(|(_, value)| *value > NIL)
    }

    /// What a column brings more than it costs at the prices.
    pub(super) fn gain_of(&self, column: &LpColumn) -> f64 {
        column.gain - column.entries.iter().map(|(row, entry)| self.prices[*row] * entry).sum::<f64>()
    }

    /// Adds a column and its place, without taking it.
    pub(super) fn add(&mut self, column: LpColumn) -> usize {
        self.columns.push(column);
        self.columns.len() - 1
    }

    /// Whether a column is worth taking.
    pub(super) fn pays(&self, column: &LpColumn) -> bool {
        self.gain_of(column) > NIL
    }

    pub(super) fn column(&self, place: usize) -> &LpColumn {
        &self.columns[place]
    }

    /// Takes a column as often as the rows allow, in the place of another.
    pub(super) fn enter(&mut self, place: usize) -> bool {
        let n = self.n_rows;
        let entries = &self.columns[place].entries;
        let change: Vec<f64> = (0..n)
            .map(|row| entries.iter().map(|(at, entry)| self.inverse[row * n + at] * entry).sum())
            .collect();
        let mut leaves: Option<(f64, f64, usize)> = None;
        for (row, change) in change.iter().enumerate().filter(|(_, change)| **change > 1e-7) {
            let most = self.values[row].max(0.0) / change;
            // Of several the one with the largest entry keeps the numbers steady.
            let better = leaves.is_none_or(|(least, entry, _): (f64, f64, usize)| {
                most < least - 1e-10 || (most <= least + 1e-10 && *change > entry)
            });
            if better {
                leaves = Some((most, *change, row));
            }
        }
        let Some((most, pivot, leaves)) = leaves else { return false };
        for (row, value) in self.values.iter_mut().enumerate() {
            *value -= most * change[row];
        }
        self.values[leaves] = most;
        let leaving: Vec<f64> =
            self.inverse[leaves * n..(leaves + 1) * n].iter().map(|one| one / pivot).collect();
        for ((row, change), own) in change.iter().enumerate().zip(self.inverse.chunks_exact_mut(n)) {
            if row != leaves && *change != 0.0 {
                own.iter_mut().zip(&leaving).for_each(|(one, other)| *one -= change * other);
            }
        }
        self.inverse[leaves * n..(leaves + 1) * n].copy_from_slice(&leaving);
        self.basis[leaves] = place;
        self.price();
        true
    }

    fn price(&mut self) {
        self.prices.fill(0.0);
        for (row, column) in self.basis.iter().enumerate() {
            let gain = self.columns[*column].gain;
            if gain != 0.0 {
                let inverse = &self.inverse[row * self.n_rows..(row + 1) * self.n_rows];
                self.prices.iter_mut().zip(inverse).for_each(|(price, one)| *price += gain * one);
            }
        }
    }
}
