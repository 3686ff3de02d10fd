//! Charts as accessible SVG.
