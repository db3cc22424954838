//! Fasteners of one joint: how many, in which order they are tightened, for which thread.

use crate::language::Thread;
use crate::source::Span;

/// A set of fasteners.
#[derive(Debug, Clone)]
pub struct Fasteners {
    /// One line for people.
    pub title: String,
    /// The numbers in the order of tightening: each of 1 to their count, once.
    pub order: Vec<u32>,
    /// The thread that the torques are for.
    pub condition: Thread,
    /// The thread in words.
    pub thread: Option<String>,
    /// Where they are declared.
    pub span: Span,
}

/// The star order of `count` fasteners on a circle: each is followed by the one opposite, and each
/// pair by the one a quarter turn on. `None` where an odd number has no opposites.
pub fn star(count: u32) -> Option<Vec<u32>> {
    if count == 0 || !count.is_multiple_of(2) {
        return None;
    }
    let half = count / 2;
    let quarter = half.div_ceil(2);
    let pairs = (1..=quarter).flat_map(|first| [first, first + quarter]);
    let pairs = pairs.filter(|first| *first <= half);
    Some(pairs.flat_map(|first| [first, first + half]).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_star_goes_to_the_opposite_one_and_then_a_quarter_turn_on() {
        assert_eq!(star(4).unwrap(), [1, 3, 2, 4]);
        assert_eq!(star(6).unwrap(), [1, 4, 3, 6, 2, 5]);
        assert_eq!(star(8).unwrap(), [1, 5, 3, 7, 2, 6, 4, 8]);
        assert_eq!(star(12).unwrap(), [1, 7, 4, 10, 2, 8, 5, 11, 3, 9, 6, 12]);
        assert_eq!((star(7), star(0)), (None, None));
    }

    #[test]
    fn a_star_has_each_number_once_and_opposites_in_pairs() {
        for count in (2..=96).step_by(2) {
            let order = star(count).unwrap();
            let mut sorted = order.clone();
            sorted.sort_unstable();
            assert_eq!(sorted, (1..=count).collect::<Vec<_>>());
            assert!(order.chunks(2).all(|pair| pair[1] - pair[0] == count / 2), "{order:?}");
        }
    }
}
