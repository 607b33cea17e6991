//! Gains into a design file, with its comments and its layout kept.

use toml_edit::{DocumentMut, Item, Value};

use super::design::Offer;
use crate::design::keys::{self, Key};

/// The text of a design file with these gains in its `[loop]`; everything else stays as it is, byte for byte.
///
/// # Errors
///
/// The text is not TOML, or has no table `[loop]`: in words.
pub fn with_gains(text: &str, offer: &Offer) -> Result<String, String> {
    let mut document: DocumentMut = text.parse().map_err(|error| format!("not TOML: {error}"))?;
    let section = document
        .get_mut(keys::LOOP.entry().name)
        .and_then(Item::as_table_like_mut)
        .ok_or("there is no section [loop] to write the gains to")?;
    let gains = &offer.gains;
    let percent = |share: f64| tidy(100.0 * share);
    let derivative = gains.kd_second_per_kelvin > 0.0;
    let mut set = |name: &str, value: Value| {
        if let Some(old) = section.get_mut(name).and_then(Item::as_value_mut) {
            // the comment behind the number belongs to the key, not to the number
            let decor = old.decor().clone();
            *old = value;
            *old.decor_mut() = decor;
        } else {
            section.insert(name, Item::Value(value));
        }
    };
    set(keys::KP.entry().name, number(percent(gains.kp_per_kelvin)));
    set(
        keys::KI.entry().name,
        number(percent(gains.ki_per_kelvin_second)),
    );
    if derivative {
        set(
            keys::KD.entry().name,
            number(percent(gains.kd_second_per_kelvin)),
        );
        set(
            keys::D_FILTER.entry().name,
            Value::from(1_i64 << offer.filter_exponent),
        );
    } else {
        section.remove(keys::KD.entry().name);
        section.remove(keys::D_FILTER.entry().name);
    }
    Ok(document.to_string())
}

/// A number without the rounding of its decimal point.
fn tidy(value: f64) -> f64 {
    format!("{value:.6e}")
        .parse()
        .expect("a number just written")
}

/// A whole number without a decimal point, any other as it is.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 1e9 {
        Value::from(value as i64)
    } else {
        Value::from(value)
    }
}

/// Lines that differ, the old one with `-`, the new one with `+`, in order.
#[must_use]
pub fn difference(old: &str, new: &str) -> String {
    let mut out = String::new();
    let (old, new): (Vec<&str>, Vec<&str>) = (old.lines().collect(), new.lines().collect());
    let (mut a, mut b) = (0, 0);
    while a < old.len() || b < new.len() {
        match (old.get(a), new.get(b)) {
            (Some(x), Some(y)) if x == y => {
                a += 1;
                b += 1;
            }
            (Some(x), _) if !new[b..].contains(x) => {
                out += &format!("- {x}\n");
                a += 1;
            }
            (_, Some(y)) => {
                out += &format!("+ {y}\n");
                b += 1;
            }
            (Some(x), None) => {
                out += &format!("- {x}\n");
                a += 1;
            }
            (None, None) => break,
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::margins::Margins;
    use crate::tune::rules::Terms;
    use controller_core::gain::Gains;

    fn offer(kp: f64, ki: f64, kd: f64) -> Offer {
        Offer {
            name: String::new(),
            terms: Terms::Pi,
            gains: Gains::parallel(kp, ki, kd),
            filter_exponent: 4,
            margins: Margins::of(&|w| num_complex::Complex64::new(1.0, w).inv(), 1e-3, 1e3, 0),
            absolute_error: 0.0,
            noise_travel_per_hour: 0.0,
        }
    }

    const TEXT: &str = "# head\n[loop] # the loop\nkp_percent_per_kelvin = 4   # by hand\nki_percent_per_kelvin_second=0.07\n\n[fan]\nx = 1\n";

    #[test]
    fn comments_and_layout_stay() {
        let new = with_gains(TEXT, &offer(0.0213, 0.000_456, 0.0)).expect("a table");
        assert_eq!(
            new,
            TEXT.replace("= 4   #", "= 2.13   #")
                .replace("=0.07", "=0.0456")
        );
        assert_eq!(
            difference(TEXT, &new),
            "- kp_percent_per_kelvin = 4   # by hand\n- ki_percent_per_kelvin_second=0.07\n\
             + kp_percent_per_kelvin = 2.13   # by hand\n+ ki_percent_per_kelvin_second=0.0456\n"
        );
    }

    #[test]
    fn the_derivative_comes_and_goes_with_its_filter() {
        let with = with_gains(TEXT, &offer(0.02, 0.0005, 0.7)).expect("a table");
        assert!(
            with.contains("kd_percent_second_per_kelvin = 70\n"),
            "{with}"
        );
        assert!(with.contains("derivative_filter_samples = 16\n"), "{with}");
        let without = with_gains(&with, &offer(0.02, 0.0005, 0.0)).expect("a table");
        assert!(
            !without.contains("derivative") && !without.contains("kd_"),
            "{without}"
        );
    }

    #[test]
    fn what_has_no_loop_is_refused() {
        assert!(with_gains("[fan]\nx = 1\n", &offer(0.1, 0.1, 0.0)).is_err());
        assert!(with_gains("loop = 3", &offer(0.1, 0.1, 0.0)).is_err());
        assert!(with_gains("[loop", &offer(0.1, 0.1, 0.0)).is_err());
    }
}
