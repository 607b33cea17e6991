use super::{backlash, beyond, ramp, slew};

/// A negative step, width or limit counts as none.
#[test]
fn a_negative_amount_counts_as_none() {
    let mut cases = 0_u32;
    for a in i8::MIN..=i8::MAX {
        for b in i8::MIN..=i8::MAX {
            for w in [-128, -127, -1_i8] {
                assert_eq!(ramp(a, b, w), a);
                assert_eq!((slew(a, b, w, w), slew(a, b, w, 0)), (a, a));
                assert_eq!((backlash(a, b, w), beyond(a, w)), (b, a));
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 65_536 * 3);
}

/// Every input at 8 bits, against arithmetic in 32 bits.
#[test]
fn every_input_at_eight_bits() {
    let mut cases = 0_u32;
    for a in i8::MIN..=i8::MAX {
        for b in i8::MIN..=i8::MAX {
            let (x, y) = (i32::from(a), i32::from(b));
            for width in [0, 1, 5, 64, 127_i8] {
                let w = i32::from(width);
                // moves from a towards b by at most w, never past it
                let moved = if y > x { y.min(x + w) } else { y.max(x - w) };
                assert_eq!(i32::from(ramp(a, b, width)), moved);
                let up = i32::from(width / 2);
                let slewed = if y > x { y.min(x + up) } else { y.max(x - w) };
                assert_eq!(i32::from(slew(a, b, width, width / 2)), slewed);
                // a stays if it is within w of b, else it ends w from b on its own side
                let followed = if x > y + w {
                    y + w
                } else if x < y - w {
                    y - w
                } else {
                    x
                };
                assert_eq!(i32::from(backlash(a, b, width)), followed);
                cases += 1;
            }
        }
        for width in 0..=i8::MAX {
            let (x, w) = (i32::from(a), i32::from(width));
            let outside = (x.abs() - w).max(0) * x.signum();
            assert_eq!(i32::from(beyond(a, width)), outside);
            cases += 1;
        }
    }
    assert_eq!(cases, 65_536 * 5 + 256 * 128);
}
