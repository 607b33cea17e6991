//! On the host the multiply is the compiler's own: what is tried here is that the fast forms say what the plain ones say.
//! The two small targets' multiplies are tried under simulators (`.ci/on-target`).

use crate::{Multiplied, Multiply16, Stored};
use controller_core::station::{Pi, Pid};
use controller_core::word::Multiply;
use core::any::TypeId;
use fixed::types::extra::U7;
use sensor_math::table::{Access, Lookup, Uniform};

#[test]
fn products_of_all_ends_are_exact() {
    let factors = [0, 1, 2, 255, 256, 257, 32_767, 32_768, 65_534, 65_535];
    let values = [
        i16::MIN,
        -32_767,
        -257,
        -256,
        -255,
        -129,
        -128,
        -127,
        -1,
        0,
        1,
        127,
        128,
        255,
        256,
        32_766,
        i16::MAX,
    ];
    let mut cases = 0;
    for factor in factors {
        for value in values {
            let exact = i64::from(factor) * i64::from(value);
            assert_eq!(i64::from(Multiply16::product(factor, value)), exact);
            assert_eq!(
                i64::from(<Multiply16 as Multiply<i16>>::multiply(factor, value)),
                exact
            );
            cases += 1;
        }
    }
    assert_eq!(cases, 10 * 17);
}

type Table = Uniform<[i16; 5], 4, U7>;
const TABLE: Table = Uniform::from_knots(100, 160, [-300, 500, 900, 2_500, 2_499]);
crate::flash_table!(Knots: <Table as Stored>::Elements = *TABLE.elements());

#[test]
fn a_table_in_flash_reads_as_the_plain_one_for_every_code() {
    let in_flash: <Table as Stored>::In<Knots> = TABLE.read_through(Knots);
    for code in 0..=u16::MAX {
        assert_eq!(in_flash.lookup(code), TABLE.lookup(code), "{code}");
    }
    let beyond: i16 = Knots.at(5);
    assert_eq!(beyond, 0);
}

#[test]
fn a_law_keeps_its_kind() {
    assert_eq!(
        TypeId::of::<<Pi as Multiplied>::Law>(),
        TypeId::of::<Pi<Multiply16>>()
    );
    assert_eq!(
        TypeId::of::<<Pid<3> as Multiplied>::Law>(),
        TypeId::of::<Pid<3, Multiply16>>()
    );
}
