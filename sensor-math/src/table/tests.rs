extern crate std;
use super::*;

/// Every fraction of every shift against exact arithmetic, at the differences where it matters.
#[test]
fn interpolation_is_exact_rounding() {
    let mut cases = 0u32;
    for shift in 0..=12u32 {
        for fraction in 0..1u32 << shift {
            for difference in [-0x3fff, -8193, -255, -1, 0, 1, 2, 255, 8192, 0x3fff_i16] {
                let exact = (difference as i64 * fraction as i64 * 2 + (1 << shift))
                    .div_euclid(2 << shift) as i16;
                let exact = if shift == 0 { 0 } else { exact };
                assert_eq!(
                    native_interpolate(difference, fraction as u16, shift),
                    exact
                );
                if difference >= 0 {
                    assert_eq!(
                        Native::interpolate_by(difference as u16, fraction as u16, shift as u8),
                        exact as u16
                    );
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 8191 * 10);
}

/// What every encoding stands for: straight lines between knots `(code, word)`, rounded to the nearest
/// word, level outside. `ties` says which way exactly half a word goes.
pub(super) fn polyline(knots: &[(u32, i32)], code: u16, ties: Ties) -> i16 {
    let code = u32::from(code);
    let (first, last) = (knots[0], knots[knots.len() - 1]);
    if code <= first.0 {
        return first.1 as i16;
    }
    if code >= last.0 {
        return last.1 as i16;
    }
    let right = knots.iter().position(|knot| knot.0 > code).unwrap();
    let ((c0, w0), (c1, w1)) = (knots[right - 1], knots[right]);
    // exact in halves: twice the distance from w0, times the width
    let width = i64::from(c1 - c0);
    let rise = i64::from(w1 - w0) * i64::from(code - c0);
    let steps = match ties {
        Ties::Up => (2 * rise + width).div_euclid(2 * width),
        Ties::Down => -(width - 2 * rise).div_euclid(2 * width),
    };
    (i64::from(w0) + steps) as i16
}

/// Where half a word goes.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Ties {
    /// To the hotter word.
    Up,
    /// To the colder word.
    Down,
}

/// Elements in memory, however they are reached; outside, anything but a panic.
#[test]
fn accessors_read_memory() {
    let array = [7_i16, -8, 9];
    let slice: &[i16] = &array;
    for index in 0..3 {
        assert_eq!(array.at(index), array[index]);
        assert_eq!(Access::at(slice, index), array[index]);
        assert_eq!(Access::at(&slice, index), array[index]);
    }
    assert_eq!((array.at(3), Access::at(slice, usize::MAX)), (0, 0));
}

/// Neighbours may be 2^14 - 1 apart either way, the first and the last pair included.
#[test]
fn neighbouring_knots_may_not_be_further_apart_than_a_multiply_takes() {
    assert!(differences_fit(&[]) && differences_fit(&[i16::MIN]));
    for (far, fits) in [
        (0x3fff, true),
        (0x4000, false),
        (-0x3fff, true),
        (-0x4000, false),
    ] {
        assert_eq!(differences_fit(&[0, far]), fits, "{far}");
        assert_eq!(differences_fit(&[0, far, far, far]), fits, "{far} first");
        assert_eq!(differences_fit(&[5, 5, 5, 5 + far]), fits, "{far} last");
        assert_eq!(differences_fit(&[far, 0]), fits, "{far} falling");
    }
    assert!(!differences_fit(&[i16::MIN, i16::MAX]));
}

/// A reference to a table is a table.
#[test]
fn a_reference_looks_up_the_same() {
    use fixed::types::extra::U7;
    fn through<T: Lookup>(table: &T, code: u16) -> i16 {
        <&T as Lookup>::lookup(&table, code)
    }
    let table = Uniform::<[i16; 3], 3, U7>::from_knots(100, 115, [0, 800, 900]);
    for code in [0, 100, 104, 109, 115, 200] {
        assert_eq!(through(&table, code), table.lookup(code));
    }
    assert_eq!(through(&table, 104), 400);
}
