//! How much stands on the first page, so that it is one sheet of A4: rows are counted by the lines that
//! they take in print, and the last of the longest table give way until all fit.

use super::findings::Found;
use super::first_page::Group;
use super::parts::Pieces;
use super::readings::Row;

/// Lines of tables that a sheet has room for where nothing else is long.
const LINES_MAX: usize = 25;
/// Lines of the frames in which cause, change and next service stand, when they are not long.
const LINES_OF_HEADLINES: usize = 10;
/// A table keeps so many rows whatever else there is.
const ROWS_MIN: usize = 2;

/// Letters of each column of the tables, and of the lines above them, as they are printed.
const FOUND: [usize; 3] = [54, 23, 68];
const FIGURE: usize = 58;
const PIECES: [usize; 3] = [36, 27, 58];
const FACT: usize = 118;
const HEADLINE: usize = 46;

fn lines_of(text: &str, letters: usize) -> usize {
    text.chars().count().div_ceil(letters).max(1)
}

fn found(row: &Found) -> usize {
    let done = lines_of(&row.outcome.join("; "), FOUND[2]);
    (lines_of(&row.what, FOUND[0] - 2)).max(lines_of(&row.places, FOUND[1])).max(done)
}

fn figure(row: &Row) -> usize {
    let what = lines_of(&format!("{} {}", row.text, row.position), FIGURE);
    let notes = row.notes.join(" ");
    let notes = if notes.is_empty() { 0 } else { lines_of(&notes, FIGURE + 6) };
    let cells = [&row.found, &row.left, &row.once].into_iter().flatten();
    let cells = cells.map(|cell| lines_of(&cell.text, 20) + usize::from(cell.verdict.is_some()));
    (what + notes).max(cells.max().unwrap_or(1)).max(lines_of(&row.limit, 20))
}

fn pieces(row: &Pieces) -> usize {
    let title = format!("{} {}", row.title, row.number.as_deref().unwrap_or(""));
    let places = format!("{} {}", row.places, row.lots.join(" "));
    lines_of(&title, PIECES[0])
        .max(lines_of(&places, PIECES[1]))
        .max(lines_of(&row.because, PIECES[2]))
}

/// The lines that are left for tables below `groups`.
pub(super) fn room(groups: &[Group]) -> usize {
    let lines = |group: &Group, letters: usize| -> usize {
        let each = group.lines.iter();
        each.map(|told| lines_of(&told.label, letters + 8) + lines_of(&told.says, letters)).sum()
    };
    let facts = groups.iter().filter(|group| group.is_fact).map(|group| {
        let all = group.lines.iter().map(|told| format!("{}: {}; ", told.label, told.says));
        lines_of(&all.collect::<String>(), FACT)
    });
    let others = groups.iter().filter(|group| !group.is_fact).map(|g| lines(g, HEADLINE));
    let over = others.max().unwrap_or(0).saturating_sub(LINES_OF_HEADLINES);
    LINES_MAX.saturating_sub(facts.sum::<usize>() + over)
}

/// Takes rows off until what is left has room; gives them by table.
pub(super) fn fit(
    room: usize,
    (found_rows, renewed, outside, missing): (
        &mut Vec<Found>,
        &mut Vec<Pieces>,
        &mut Vec<Row>,
        &mut Vec<Pieces>,
    ),
) -> (Vec<Found>, Vec<Pieces>, Vec<Row>, Vec<Pieces>) {
    let mut lines: [Vec<usize>; 4] = [
        found_rows.iter().map(found).collect(),
        renewed.iter().map(pieces).collect(),
        outside.iter().map(figure).collect(),
        missing.iter().map(pieces).collect(),
    ];
    let mut lost = [0_usize; 4];
    loop {
        // What gave way is told in a line or two.
        let counted: usize = lost.iter().map(|n| n.div_ceil(2)).sum();
        let all = lines.iter().flatten().sum::<usize>() + counted;
        let longest =
            (0..4).max_by_key(|at| lines.get(*at).map_or(0, |rows| rows.len() * 4 + 3 - at));
        let table = longest.and_then(|at| Some((lines.get_mut(at)?, lost.get_mut(at)?)));
        match table {
            Some((rows, n)) if all > room && rows.len() > ROWS_MIN => {
                rows.pop();
                *n += 1;
            }
            _ => break,
        }
    }
    (
        found_rows.split_off(found_rows.len() - lost[0]),
        renewed.split_off(renewed.len() - lost[1]),
        outside.split_off(outside.len() - lost[2]),
        missing.split_off(missing.len() - lost[3]),
    )
}

#[cfg(test)]
mod tests {
    use super::super::first_page::Told;
    use super::*;

    fn part(title: &str) -> Pieces {
        Pieces {
            title: title.to_owned(),
            number: None,
            quantity: 1,
            places: String::new(),
            lots: Vec::new(),
            because: "worn".to_owned(),
            is_failed: true,
        }
    }

    #[test]
    fn the_longest_table_gives_way_and_says_what_it_lost() {
        let mut renewed: Vec<Pieces> = (0..9).map(|n| part(&format!("part {n}"))).collect();
        let mut missing = vec![part("gasket"), part("ring"), part("seal")];
        let tables = (&mut Vec::new(), &mut renewed, &mut Vec::new(), &mut missing);
        let (_, lost, _, none) = fit(9, tables);
        assert_eq!((renewed.len(), missing.len()), (3, 3));
        assert_eq!(lost.first().map(Pieces::in_short).as_deref(), Some("1 × part 3"));
        assert_eq!((lost.len(), none.len()), (6, 0));
        // However little room there is, a table keeps its first rows.
        let tables = (&mut Vec::new(), &mut renewed, &mut Vec::new(), &mut missing);
        drop(fit(0, tables));
        assert_eq!((renewed.len(), missing.len()), (ROWS_MIN, ROWS_MIN));
    }

    #[test]
    fn long_answers_above_leave_less_room() {
        let group = |is_fact: bool, says: &str| Group {
            under: "cause",
            title: "t",
            is_fact,
            is_stated: false,
            lines: vec![Told { label: "l".to_owned(), says: says.to_owned() }],
        };
        let few = room(&[group(true, "short"), group(false, "short")]);
        let more = room(&[group(true, &"long ".repeat(60)), group(false, &"long ".repeat(200))]);
        assert!(few == LINES_MAX - 1 && more < few, "{few} {more}");
    }
}
