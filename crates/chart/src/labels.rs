/// The words of a chart.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Labels {
    /// Name of the chart, read first by a screen reader: "Contaminated sets by month".
    pub title: String,
    /// What the chart shows, in one or two sentences.
    pub description: String,
    /// One label per point: "2026-03". A point without one is numbered.
    pub point_labels: Vec<String>,
    /// What the vertical axis of a control chart, or the horizontal axis of an interval plot, shows.
    pub value_axis: String,
    /// What the denominators count: "sets". Empty where there are none.
    pub of_what: String,
    /// True when values are fractions of one, to be shown as percentages.
    pub percent: bool,
    /// Where the method is explained: `/methods#p-chart`. Only links within the site (`/...`, `#...`) and `https:`
    /// links are drawn.
    pub anchor_href: Option<String>,
}

/// Width for which a chart is laid out.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub enum Layout {
    /// 760 units wide: a desk or a sheet of paper.
    #[default]
    Wide,
    /// 340 units wide: a phone of 360 pixels with its margins.
    Narrow,
}

/// Where the colours come from.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub enum Palette {
    /// For a page: custom properties of the page's style sheet (`--chart-ink`, `--chart-quiet`, `--chart-line`,
    /// `--chart-ground`, `--chart-signal`), falling back to the colour of the text around the chart.
    #[default]
    Page,
    /// For paper and files of their own: plain greys on white, no variables.
    Print,
}

/// How a chart is drawn, apart from what it says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Look {
    /// Layout.
    pub layout: Layout,
    /// Colours.
    pub palette: Palette,
    /// Start of the identifiers in this drawing; two drawings on one page need different ones.
    pub id: String,
    /// Writes the title into the drawing, for a file that stands alone.
    pub heading: bool,
    /// Lets the points be reached with the tabulator key. The drawing is then a group rather than one image.
    pub tab_points: bool,
    /// Font family; `None` takes the page's font, or a plain sans serif in print.
    pub font_family: Option<String>,
}

impl Look {
    /// Look for a page at desk width: its points can be tabbed to.
    pub fn page(id: &str) -> Look {
        Look { id: id.to_owned(), tab_points: true, ..Look::default() }
    }

    /// Look for a page at phone width.
    pub fn narrow_page(id: &str) -> Look {
        Look { layout: Layout::Narrow, ..Look::page(id) }
    }

    /// Look for a file that stands alone: greys, with its title.
    pub fn file(id: &str) -> Look {
        Look { id: id.to_owned(), palette: Palette::Print, heading: true, ..Look::default() }
    }
}
