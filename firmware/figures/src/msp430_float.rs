//! Float helpers by this target's names, for the float baseline alone: `compiler_builtins` has the routines under the
//! usual names only.

unsafe extern "C" {
    fn __addsf3(a: f32, b: f32) -> f32;
    fn __subsf3(a: f32, b: f32) -> f32;
    fn __mulsf3(a: f32, b: f32) -> f32;
    fn __divsf3(a: f32, b: f32) -> f32;
    fn __floatsisf(a: i32) -> f32;
    fn __floatunsisf(a: u32) -> f32;
    fn __fixsfsi(a: f32) -> i32;
    fn __fixunssfsi(a: f32) -> u32;
}

macro_rules! alias {
    ($($name:ident = $routine:ident($($argument:ident: $t:ty),*) -> $r:ty;)*) => {$(
        #[unsafe(no_mangle)]
        extern "C" fn $name($($argument: $t),*) -> $r {
            // SAFETY: plain arithmetic.
            unsafe { $routine($($argument),*) }
        }
    )*};
}
alias! {
    __mspabi_addf = __addsf3(a: f32, b: f32) -> f32;
    __mspabi_subf = __subsf3(a: f32, b: f32) -> f32;
    __mspabi_mpyf = __mulsf3(a: f32, b: f32) -> f32;
    __mspabi_divf = __divsf3(a: f32, b: f32) -> f32;
    __mspabi_fltlif = __floatsisf(a: i32) -> f32;
    __mspabi_fltulf = __floatunsisf(a: u32) -> f32;
    __mspabi_fixfli = __fixsfsi(a: f32) -> i32;
    __mspabi_fixful = __fixunssfsi(a: f32) -> u32;
}

/// Negative, zero or positive as `a` is below, equal to or above `b`; positive when either is not a number.
#[unsafe(no_mangle)]
extern "C" fn __mspabi_cmpf(a: f32, b: f32) -> i32 {
    let order = |x: f32| {
        let bits = x.to_bits() as i32;
        if bits < 0 {
            i32::MIN.wrapping_sub(bits)
        } else {
            bits
        }
    };
    let not_a_number = |x: f32| (x.to_bits() & 0x7fff_ffff) > 0x7f80_0000;
    if not_a_number(a) || not_a_number(b) {
        return 1;
    }
    let (a, b) = (order(a), order(b));
    if a < b {
        -1
    } else if a > b {
        1
    } else {
        0
    }
}
