//! The pictures: what they show lies where the numbers say, words stay legible, and the SVG is sound.

mod labels;
mod look;
mod samples;
mod section;
mod side_view;
mod svg;
mod tools;
