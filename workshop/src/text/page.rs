//! A page of text as wide as the terminal.

use anstyle::Style;
use terminal_size::{Width, terminal_size};
use textwrap::{Options, wrap};
use unicode_width::UnicodeWidthStr;

/// Text being laid out.
pub(super) struct Page {
    text: String,
    width: usize,
}

/// Colours repeat what the words say; none carries a meaning of its own.
pub(super) const STRONG: Style = Style::new().bold();
pub(super) const QUIET: Style = Style::new().dimmed();

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
    /// A page for the terminal, or of 80 columns where there is none.
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

    /// A line that opens a part of the page.
    pub(super) fn heading(&mut self, text: &str) {
        self.blank();
        for line in wrap(text, self.width) {
            self.text.push_str(&format!("{STRONG}{line}{STRONG:#}\n"));
        }
    }

    /// A paragraph, indented.
    pub(super) fn paragraph(&mut self, indent: usize, text: &str) {
        let margin = " ".repeat(indent);
        let options = Options::new(self.width).initial_indent(&margin).subsequent_indent(&margin);
        for line in wrap(text, options) {
            self.text.push_str(line.trim_end());
            self.text.push('\n');
        }
    }

    /// A mark and a label in the margin, the text hanging beside them.
    pub(super) fn item(&mut self, label: &str, room: usize, text: &str, style: Style) {
        let room = room.min(self.width / 2);
        // On a narrow page the text goes below its label.
        let beside = self.width - room >= 28;
        let margin = " ".repeat(if beside { room } else { 4 });
        let padded = format!("  {}", pad(label, room.saturating_sub(3), false));
        let label = padded.trim_end();
        if !beside || label.width() > room.saturating_sub(1) {
            self.text.push_str(&format!("{style}{label}{style:#}\n"));
            let options = Options::new(self.width).initial_indent(&margin).subsequent_indent(&margin);
            for line in wrap(text, options) {
                self.text.push_str(&format!("{}\n", line.trim_end()));
            }
            return;
        }
        let label = pad(label, room, false);
        let options = Options::new(self.width - room);
        for (index, line) in wrap(text, options).iter().enumerate() {
            let start = if index == 0 { format!("{style}{label}{style:#}") } else { margin.clone() };
            self.text.push_str(&format!("{start}{}\n", line.trim_end()));
        }
    }

    /// A table; where it is wider than the page, each row becomes a list of its own.
    pub(super) fn table(&mut self, columns: &[Column], rows: &[Vec<String>]) {
        let widths: Vec<usize> = columns
            .iter()
            .enumerate()
            .map(|(index, column)| {
                let cells = rows.iter().filter_map(|row| row.get(index)).map(|cell| cell.width());
                cells.chain([column.title.width()]).max().unwrap_or(0)
            })
            .collect();
        if 2 + widths.iter().sum::<usize>() + 2 * widths.len() > self.width + 2 {
            return self.stacked(columns, rows);
        }
        let line = |cells: Vec<&str>| {
            let padded = cells
                .iter()
                .zip(columns)
                .zip(&widths)
                .map(|((cell, column), width)| pad(cell, *width, column.right));
            format!("  {}", padded.collect::<Vec<_>>().join("  ")).trim_end().to_owned()
        };
        let titles = line(columns.iter().map(|column| column.title).collect());
        self.text.push_str(&format!("{QUIET}{titles}{QUIET:#}\n"));
        for row in rows {
            self.text.push_str(&line(row.iter().map(String::as_str).collect()));
            self.text.push('\n');
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

/// Text filled up with blanks to a width in columns.
fn pad(text: &str, width: usize, right: bool) -> String {
    let fill = " ".repeat(width.saturating_sub(text.width()));
    if right { format!("{fill}{text}") } else { format!("{text}{fill}") }
}
