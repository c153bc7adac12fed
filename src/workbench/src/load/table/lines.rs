//! Lines and cells: what stands between columns, and which lines hold numbers.

/// Words that stand for a step that was not read.
const NOT_READ: [&str; 14] =
    ["-", "--", "---", "\u{2013}", "\u{2014}", ".", "?", "x", "n/a", "na", "nan", "none", "null", "missing"];

/// Most lines that a table is looked for in, blank ones aside, and most bytes of a line.
const MOST_LINES_AND_BYTES: (usize, usize) = (20_000, 1 << 16);

/// A line that holds anything.
#[derive(Debug, Clone)]
pub(super) struct Line {
    /// As an editor counts it, from 1.
    pub(super) number: usize,
    /// The line as it stands, without a mark of a remark.
    pub(super) text: String,
    /// Its cells; trailing empty ones are left out.
    pub(super) cells: Vec<String>,
    /// It begins with '#'.
    pub(super) remark: bool,
}

impl Line {
    /// A line of a table: the density of a step, or what stands for one that was not read.
    pub(super) fn is_row(&self) -> bool {
        !self.remark
            && self.cells.iter().any(|cell| number(cell).is_some())
            && self.cells.iter().all(|cell| number(cell).is_some() || not_read(cell))
    }

    /// Whether any cell is a number.
    pub(super) fn has_number(&self) -> bool {
        self.cells.iter().any(|cell| number(cell).is_some())
    }
}

/// A text divided into lines and cells.
pub(super) struct Lines {
    pub(super) lines: Vec<Line>,
    /// What stands between columns; `None` for blanks.
    delimiter: Option<char>,
    /// The line at which it grows longer than any table; what follows was not looked at.
    pub(super) endless: Option<usize>,
}

impl Lines {
    pub(super) fn of(text: &str) -> Self {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let plain: Vec<(usize, &str)> = (1..)
            .zip(physical(text))
            .filter(|(_, line)| !line.trim().is_empty())
            .take(MOST_LINES_AND_BYTES.0 + 1)
            .collect();
        let endless = plain
            .get(MOST_LINES_AND_BYTES.0)
            .or_else(|| plain.iter().find(|(_, line)| line.len() > MOST_LINES_AND_BYTES.1));
        let endless = endless.map(|(number, _)| *number);
        let plain: Vec<(usize, &str)> =
            plain.into_iter().take_while(|(number, _)| endless.is_none_or(|at| *number < at)).collect();
        let data = plain.iter().map(|(_, line)| line.trim()).filter(|line| !line.starts_with('#'));
        let delimiter = delimiter(&data.collect::<Vec<_>>());
        let line = |(number, line): (usize, &str)| {
            let bare = line.trim_start().trim_start_matches('#');
            let remark = bare.len() < line.trim_start().len();
            Line { number, text: bare.trim().to_owned(), cells: cells(bare, delimiter), remark }
        };
        let lines = plain.into_iter().map(line).filter(|line| !line.cells.is_empty()).collect();
        Self { lines, delimiter, endless }
    }

    /// The cells of a head row above `columns` columns. Between blanks a title of several words stands apart by two or more.
    pub(super) fn head(&self, line: &Line, columns: usize) -> Vec<String> {
        if self.delimiter.is_some() || line.cells.len() == columns {
            return line.cells.clone();
        }
        let apart: Vec<String> =
            line.text.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).map(str::to_owned).collect();
        if apart.len() == columns { apart } else { line.cells.clone() }
    }
}

/// The lines of a text, whatever system ended them.
fn physical(text: &str) -> impl Iterator<Item = &str> {
    // A carriage return alone ends a line, too; one before a line feed belongs to it.
    text.split('\n').flat_map(|line| line.strip_suffix('\r').unwrap_or(line).split('\r'))
}

fn cells(line: &str, delimiter: Option<char>) -> Vec<String> {
    let mut cells: Vec<String> = match delimiter {
        None => line.split_whitespace().map(str::to_owned).collect(),
        Some(delimiter) => divided(line, delimiter),
    };
    while cells.last().is_some_and(String::is_empty) {
        cells.pop();
    }
    cells
}

/// A line divided at a delimiter, but not within quotation marks (RFC 4180).
fn divided(line: &str, delimiter: char) -> Vec<String> {
    let (mut cells, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    let mut rest = line.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '"' if quoted && rest.peek() == Some(&'"') => {
                cell.push('"');
                rest.next();
            }
            '"' if quoted || cell.trim().is_empty() => quoted = !quoted,
            c if c == delimiter && !quoted => cells.push(std::mem::take(&mut cell).trim().to_owned()),
            c => cell.push(c),
        }
    }
    cells.push(cell.trim().to_owned());
    cells
}

/// What stands between columns; `None` for blanks. Lines of numbers decide, not headings. A comma is one only where it
/// cannot be a decimal comma: beside decimal points, twice in a line, or after whole numbers that count the lines.
fn delimiter(lines: &[&str]) -> Option<char> {
    let plain = |c: char| c.is_ascii_digit() || c.is_whitespace() || "+-\u{2212}.,;\t\"eE".contains(c);
    // No date as 30.11.2026.
    let dotted = |line: &str| {
        line.split(|c: char| c.is_whitespace() || c == ';')
            .any(|cell| cell.matches('.').count() > 1 && !cell.contains(','))
    };
    let all_plain = |line: &&&str| {
        line.chars().all(plain) && line.contains(|c: char| c.is_ascii_digit()) && !dotted(line)
    };
    let begins = |line: &&&str| line.starts_with(|c: char| c.is_ascii_digit() || "+-.,\"".contains(c));
    let mut numbers: Vec<&str> = lines.iter().filter(all_plain).copied().collect();
    if numbers.len() < 2 {
        numbers = lines.iter().filter(begins).copied().collect();
    }
    // Of lines that begin with a number, but not with a date, one tab or semicolon tells: it stands in no number.
    let dated = |line: &str| line.contains([':', '/']) || dotted(line);
    for delimiter in [';', '\t'] {
        let told = |line: &&&str| begins(line) && !dated(line) && line.contains(delimiter);
        let headings = numbers.is_empty() && lines.iter().any(|line| line.contains(delimiter));
        if headings || lines.iter().any(|line| told(&line)) {
            return Some(delimiter);
        }
    }
    let commas = |line: &str| line.matches(',').count();
    if !numbers.iter().any(|line| line.contains(',')) {
        return (numbers.is_empty() && lines.iter().any(|line| line.contains(','))).then_some(',');
    }
    let blanks = numbers.iter().any(|line| line.split_whitespace().count() > 1 && !line.contains(", "));
    let decimal = !numbers.iter().any(|line| line.contains('.') || line.contains('"'))
        && numbers.iter().all(|line| line.split_whitespace().all(|cell| commas(cell) <= 1))
        && (blanks || !counts(&numbers));
    if decimal { None } else { Some(',') }
}

/// Whether what stands before the commas counts 1, 2, 3 ... or back, over at least two lines; a gap may be in it.
fn counts(lines: &[&str]) -> bool {
    let before: Option<Vec<i64>> =
        lines.iter().map(|line| line.split(',').next().and_then(|cell| cell.trim().parse().ok())).collect();
    before.is_some_and(|before| {
        let up = before.windows(2).all(|pair| pair[1] > pair[0]);
        let down = before.windows(2).all(|pair| pair[1] < pair[0]);
        before.len() > 1 && (up || down) && (before.first() == Some(&1) || before.last() == Some(&1))
    })
}

/// A number with decimal point or comma; nothing else, and no infinity.
pub(super) fn number(cell: &str) -> Option<f64> {
    let plain = |c: char| c.is_ascii_digit() || "+-.,eE".contains(c);
    let cell = cell.replace('\u{2212}', "-");
    if cell.is_empty() || !cell.chars().all(plain) || (cell.contains(',') && cell.contains('.')) {
        return None;
    }
    cell.replace(',', ".").parse().ok().filter(|v: &f64| v.is_finite())
}

/// Whether a cell is empty or says that nothing was read.
pub(super) fn not_read(cell: &str) -> bool {
    cell.is_empty() || NOT_READ.contains(&cell.to_lowercase().as_str())
}

/// Whether a cell would be a number if letters that look like digits were digits.
pub(super) fn nearly(cell: &str) -> bool {
    let digits: String = cell
        .chars()
        .map(|c| match c {
            'O' | 'o' => '0',
            'l' | 'I' | '|' => '1',
            'S' => '5',
            'B' => '8',
            other => other,
        })
        .collect();
    number(cell).is_none() && cell.contains(|c: char| c.is_ascii_digit()) && number(&digits).is_some()
}

/// Whether a cell has two signs of which one may divide thousands: 1.234,5 or 1,234.5 or 1'234.
pub(super) fn thousands(cell: &str) -> bool {
    let digits = |c: char| c.is_ascii_digit() || ".,' \u{a0}\u{202f}\u{2019}".contains(c);
    let signs = cell.chars().filter(|c| !c.is_ascii_digit()).count();
    cell.starts_with(|c: char| c.is_ascii_digit())
        && cell.chars().all(digits)
        && (signs > 1 || cell.contains(['\'', '\u{a0}', '\u{202f}', '\u{2019}']))
}
