//! Letters seven lines high, drawn with plain characters: what a person must read from across the room.

/// Height of a letter, in lines.
const HEIGHT: usize = 7;

/// Each letter as its lines from the top; `#` is ink.
const LETTERS: [(char, [&str; HEIGHT]); 14] = [
    ('A', [" ##### ", "##   ##", "##   ##", "#######", "##   ##", "##   ##", "##   ##"]),
    ('C', [" ##### ", "##   ##", "##     ", "##     ", "##     ", "##   ##", " ##### "]),
    ('D', ["###### ", "##   ##", "##   ##", "##   ##", "##   ##", "##   ##", "###### "]),
    ('E', ["#######", "##     ", "##     ", "#####  ", "##     ", "##     ", "#######"]),
    ('F', ["#######", "##     ", "##     ", "#####  ", "##     ", "##     ", "##     "]),
    ('I', ["####", " ## ", " ## ", " ## ", " ## ", " ## ", "####"]),
    ('L', ["##     ", "##     ", "##     ", "##     ", "##     ", "##     ", "#######"]),
    ('M', ["##    ##", "###  ###", "########", "## ## ##", "##    ##", "##    ##", "##    ##"]),
    ('N', ["##   ##", "###  ##", "#### ##", "## ####", "##  ###", "##   ##", "##   ##"]),
    ('O', [" ##### ", "##   ##", "##   ##", "##   ##", "##   ##", "##   ##", " ##### "]),
    ('R', ["###### ", "##   ##", "##   ##", "###### ", "##  ## ", "##   ##", "##   ##"]),
    ('S', [" ##### ", "##   ##", "##     ", " ##### ", "     ##", "##   ##", " ##### "]),
    ('T', ["########", "   ##   ", "   ##   ", "   ##   ", "   ##   ", "   ##   ", "   ##   "]),
    ('\'', ["##", "##", " #", "  ", "  ", "  ", "  "]),
];

/// The widest line, in columns.
const WIDTH: usize = 76;

/// Words in block letters, on as many rows as they need; a character without a drawing stands as it is, in the middle.
///
/// Each row of letters ends in a line feed; between two rows is a blank line.
#[must_use]
pub fn block_letters(words: &str) -> String {
    block_letters_within(words, None)
}

/// The same with rows of at most so many columns, where one word fits.
pub(super) fn block_letters_within(words: &str, width: Option<usize>) -> String {
    let width = width.unwrap_or(WIDTH);
    let mut rows: Vec<Vec<[String; HEIGHT]>> = vec![Vec::new()];
    let mut used = 0;
    for word in words.split(' ') {
        let drawn = draw(word);
        let wide = drawn[0].chars().count() + 4;
        if used + wide > width && used > 0 {
            rows.push(Vec::new());
            used = 0;
        }
        used += wide;
        if let Some(row) = rows.last_mut() {
            row.push(drawn);
        }
    }
    let text = |row: &Vec<[String; HEIGHT]>| {
        let line = |at: usize| row.iter().map(|word| word[at].as_str()).collect::<Vec<_>>().join("    ").trim_end().to_owned();
        (0..HEIGHT).map(|at| line(at) + "\n").collect::<String>()
    };
    rows.iter().map(text).collect::<Vec<_>>().join("\n")
}

fn draw(word: &str) -> [String; HEIGHT] {
    let mut lines: [String; HEIGHT] = std::array::from_fn(|_| String::new());
    for (nth, letter) in word.chars().enumerate() {
        let drawn = LETTERS.iter().find(|(known, _)| *known == letter).map(|(_, drawn)| drawn);
        for (at, line) in lines.iter_mut().enumerate() {
            line.push_str(if nth > 0 { " " } else { "" });
            match drawn {
                Some(drawn) => line.push_str(drawn[at]),
                None if at == HEIGHT / 2 => line.push(letter),
                None => line.push(' '),
            }
        }
    }
    lines
}
