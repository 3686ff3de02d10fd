/// Size of the sheets.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub enum PaperSize {
    /// 210 mm by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in by 11 in.
    Letter,
}

impl PaperSize {
    /// Name by which the typesetter knows the size.
    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::A4 => "a4",
            Self::Letter => "us-letter",
        }
    }
}

/// How a paper is printed, apart from what it says.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Printing<'a> {
    /// Size of the sheets. The pocket card is A6 (105 mm by 148 mm) whatever is asked.
    pub size: PaperSize,
    /// A sentence printed on every page: "Invented demo unit: no real people or results".
    pub notice: Option<&'a str>,
}
