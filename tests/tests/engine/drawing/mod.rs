//! The pictures: positions match the numbers, text is legible, and the SVG is valid.

mod labels;
mod look;
mod number_line;
mod samples;
mod section;
mod side_view;
mod svg;
mod tools;
