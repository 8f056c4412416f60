//! Text layout for the width of the terminal.

use anstyle::Style;
use steerwright_core::input::{printable, printable_lines};
use terminal_size::{Width, terminal_size};
use textwrap::{Options, WordSeparator, WordSplitter, wrap};
use unicode_width::UnicodeWidthStr;

/// A text under construction.
pub(super) struct Page {
    text: String,
    width: usize,
}

/// Styles only emphasise; no information depends on them.
pub(super) const STRONG: Style = Style::new().bold();
pub(super) const QUIET: Style = Style::new().dimmed();

/// Minimum width of a last column that is wrapped; below it, the rows are stacked.
const LAST_COLUMN: usize = 16;

/// One column of a table.
pub(super) struct Column {
    pub(super) title: &'static str,
    pub(super) right: bool,
}

pub(super) const fn left(title: &'static str) -> Column {
    Column { title, right: false }
}

pub(super) const fn right(title: &'static str) -> Column {
    Column { title, right: true }
}

impl Page {
    /// A page with the width of the terminal; without one, COLUMNS or 80 columns, limited to 36 to 110.
    pub(super) fn new() -> Self {
        let columns = terminal_size().map(|(Width(columns), _)| usize::from(columns));
        let columns = columns.or_else(|| std::env::var("COLUMNS").ok()?.parse().ok());
        Self { text: String::new(), width: columns.unwrap_or(80).clamp(36, 110) }
    }

    pub(super) fn finish(self) -> String {
        self.text
    }

    pub(super) fn blank(&mut self) {
        if !self.text.is_empty() && !self.text.ends_with("\n\n") {
            self.text.push('\n');
        }
    }

    /// A section heading.
    pub(super) fn heading(&mut self, text: &str) {
        self.blank();
        for line in lines(text, whole_words(self.width)) {
            self.text.push_str(&format!("{STRONG}{line}{STRONG:#}\n"));
        }
    }

    /// An indented paragraph.
    pub(super) fn paragraph(&mut self, indent: usize, text: &str) {
        let margin = " ".repeat(indent);
        let options = whole_words(self.width).initial_indent(&margin).subsequent_indent(&margin);
        for line in lines(text, options) {
            self.text.push_str(line.trim_end());
            self.text.push('\n');
        }
    }

    /// A label in the margin with hanging text next to it.
    pub(super) fn item(&mut self, label: &str, room: usize, text: &str, style: Style) {
        let room = room.min(self.width / 2);
        // On a narrow page the text goes below its label, unless it fits on one line.
        let beside = self.width - room >= 28.min(text.width());
        let margin = " ".repeat(if beside { room } else { 4 });
        let label = &*printable(label);
        let padded = format!("  {}", pad(label, room.saturating_sub(3), false));
        let label = padded.trim_end();
        if !beside || label.width() > room.saturating_sub(1) {
            self.text.push_str(&format!("{style}{label}{style:#}\n"));
            let options = whole_words(self.width).initial_indent(&margin).subsequent_indent(&margin);
            for line in lines(text, options) {
                self.text.push_str(&format!("{}\n", line.trim_end()));
            }
            return;
        }
        let label = pad(label, room, false);
        let options = whole_words(self.width - room);
        for (index, line) in lines(text, options).iter().enumerate() {
            let start = if index == 0 { format!("{style}{label}{style:#}") } else { margin.clone() };
            self.text.push_str(&format!("{start}{}\n", line.trim_end()));
        }
    }

    /// A table. If it is wider than the page, each row is printed as a list.
    pub(super) fn table(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let shown = |row: &Vec<String>| row.iter().map(|cell| printable(cell).into_owned()).collect();
        let rows: &[Vec<String>] = &rows.iter().map(shown).collect::<Vec<_>>();
        let widths: Vec<usize> = columns
            .iter()
            .enumerate()
            .map(|(index, column)| {
                let cells = rows.iter().filter_map(|row| row.get(index)).map(|cell| cell.width());
                cells.chain([column.title.width()]).max().unwrap_or(0)
            })
            .collect();
        // Two spaces before every column.
        let before_last = widths.iter().rev().skip(1).map(|width| width + 2).sum::<usize>();
        let room = self.width.saturating_sub(before_last + 2);
        let last = widths.last().copied().unwrap_or(0);
        let last_wraps = columns.last().is_some_and(|column| !column.right) && room >= LAST_COLUMN;
        if last > room && !last_wraps {
            return self.stacked(columns, rows);
        }
        let line = |cells: &[&str]| {
            let padded = cells
                .iter()
                .zip(columns)
                .zip(&widths)
                .map(|((cell, column), width)| format!("  {}", pad(cell, *width, column.right)));
            padded.collect::<String>().trim_end().to_owned()
        };
        let titles = line(&columns.iter().map(|column| column.title).collect::<Vec<_>>());
        self.text.push_str(&format!("{QUIET}{titles}{QUIET:#}\n"));
        for row in rows {
            let Some((end, front)) = row.split_last() else { continue };
            let parts = lines(end, whole_words(room));
            let mut cells: Vec<&str> = front.iter().map(String::as_str).collect();
            cells.push(parts.first().map_or("", |part| part));
            self.text.push_str(&format!("{}\n", line(&cells)));
            for part in parts.iter().skip(1) {
                self.text.push_str(&format!("{}{part}\n", " ".repeat(before_last + 2)));
            }
        }
    }

    fn stacked(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let room = columns.iter().map(|column| column.title.width()).max().unwrap_or(0) + 6;
        for row in rows {
            let mut cells = row.iter().zip(columns);
            if let Some((first, _)) = cells.next() {
                self.text.push_str(&format!("  {STRONG}{first}{STRONG:#}\n"));
            }
            for (cell, column) in cells.filter(|(cell, _)| !cell.is_empty()) {
                self.item(&format!("  {}", column.title), room, cell, QUIET);
            }
        }
    }
}

/// Wraps text; a number is kept together with its unit and uncertainty.
fn lines(text: &str, options: Options<'_>) -> Vec<String> {
    /// No-break space.
    const FIRM: char = '\u{a0}';
    let words: Vec<&str> = text.split(' ').collect();
    let ends_in_digit = |word: &str| word.ends_with(|last: char| last.is_ascii_digit());
    let is_unit = |word: &str| {
        let word = word.trim_end_matches(|last: char| last.is_ascii_punctuation() && last != '%');
        ["mm", "%", "min", "±"].contains(&word)
    };
    let mut firm = String::with_capacity(text.len());
    for (place, word) in words.iter().enumerate() {
        if let Some(before) = place.checked_sub(1).and_then(|before| words.get(before)) {
            let together = (ends_in_digit(before) && is_unit(word)) || *before == "±";
            firm.push(if together { FIRM } else { ' ' });
        }
        firm.push_str(word);
    }
    wrap(&printable_lines(&firm), options).iter().map(|line| line.replace(FIRM, " ")).collect()
}

/// No breaks at hyphens, to keep order codes, paths and commands intact.
fn whole_words(width: usize) -> Options<'static> {
    Options::new(width).word_separator(WordSeparator::AsciiSpace).word_splitter(WordSplitter::NoHyphenation)
}

/// Pads text with spaces to a width in columns.
fn pad(text: &str, width: usize, right: bool) -> String {
    let fill = " ".repeat(width.saturating_sub(text.width()));
    if right { format!("{fill}{text}") } else { format!("{text}{fill}") }
}
