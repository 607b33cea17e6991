use super::*;
use crate::plant::fan::Fan;

fn rack() -> Enclosure {
    Enclosure {
        mass_joule_per_kelvin: 9000.0,
        air_joule_per_kelvin: 2400.0,
        still_w_per_kelvin: 14.0,
        blown_w_per_kelvin: 30.0,
        leak_w_per_kelvin: 3.0,
        ventilation_w_per_kelvin: 38.0,
        sensor_lag_s: 25.0,
        fan: Fan::standing(1.5, 0.12, 0.25),
        mass_celsius: 24.0,
        air_celsius: 24.0,
        sensor_celsius: 24.0,
    }
}

fn kettle() -> Vessel {
    Vessel {
        heater_w: 2000.0,
        heater_joule_per_kelvin: 1500.0,
        contents_joule_per_kelvin: 84_000.0,
        coupling_w_per_kelvin: 120.0,
        loss_w_per_kelvin: 7.0,
        sensor_lag_s: 12.0,
        heater_celsius: 19.0,
        contents_celsius: 19.0,
        sensor_celsius: 19.0,
    }
}

const AROUND: Surroundings = Surroundings {
    load_w: 180.0,
    ambient_celsius: 24.0,
};

/// The corners of the legal range of every capacity, conductance and lag: whatever they are, a plant stays
/// between the coldest and the hottest that its energy balance allows.
#[test]
fn any_legal_plant_stays_within_its_energy_balance_at_any_step() {
    let mut cases = 0;
    for corner in 0..32u32 {
        let pick = |bit: u32, low: f64, high: f64| if corner >> bit & 1 == 0 { low } else { high };
        for seconds in [0.01, 0.25, 1.0, 60.0] {
            let vessel = Vessel {
                heater_joule_per_kelvin: pick(0, 1.0, 1e7),
                contents_joule_per_kelvin: pick(1, 1.0, 1e8),
                coupling_w_per_kelvin: pick(2, 0.001, 1e5),
                loss_w_per_kelvin: pick(3, 0.001, 1e5),
                sensor_lag_s: pick(4, 0.05, 600.0),
                ..kettle()
            };
            let enclosure = Enclosure {
                mass_joule_per_kelvin: pick(0, 1.0, 1e8),
                air_joule_per_kelvin: pick(1, 1.0, 1e8),
                still_w_per_kelvin: pick(2, 0.001, 1e5),
                leak_w_per_kelvin: pick(3, 0.001, 1e5),
                sensor_lag_s: pick(4, 0.05, 600.0),
                ..rack()
            };
            for mut plant in [Plant::Vessel(vessel), Plant::Enclosure(enclosure)] {
                let start = plant.celsius();
                let least = start.min(AROUND.ambient_celsius);
                let most = plant
                    .settled(1.0, AROUND)
                    .into_iter()
                    .chain(plant.settled(0.0, AROUND))
                    .fold(start, f64::max);
                for n in 0..200 {
                    plant.advance(seconds, f64::from(n / 50 % 2), AROUND);
                    for celsius in &plant.state()[..SPEED] {
                        let slack = 1e-6 * (most - least) + 0.05 * (most - start).min(20.0);
                        assert!(
                            (least - slack..=most + slack).contains(celsius),
                            "{celsius} not in {least} to {most}: {plant:?}"
                        );
                    }
                }
                cases += 1;
            }
        }
    }
    assert_eq!(cases, 256);
}

/// The state that a plant comes to is the one it says it settles at, and its slopes vanish there.
#[test]
fn what_is_settled_is_where_it_ends_and_stands_still() {
    for (mut plant, duty) in [
        (Plant::Enclosure(rack()), 0.4),
        (
            Plant::Vessel(Vessel {
                contents_joule_per_kelvin: 8_400.0,
                ..kettle()
            }),
            0.1,
        ),
    ] {
        let settled = plant.settled(duty, AROUND);
        for slope in plant.slopes(&settled, duty, AROUND) {
            assert!(slope.abs() < 1e-12);
        }
        for _ in 0..1000 {
            plant.advance(60.0, duty, AROUND);
        }
        for (got, end) in plant.state().iter().zip(settled) {
            assert!((got - end).abs() < 1e-6, "{got} {end}");
        }
        let found = plant.duty_for(settled[NODE], (0.05, 1.0), AROUND);
        assert!((found.expect("in range") - duty).abs() < 1e-9);
        assert_eq!(
            plant.duty_for(settled[NODE] + 1e6, (0.05, 1.0), AROUND),
            None
        );
    }
}

/// The slopes are the derivative of what `advance` does, from any state, while the fan turns.
#[test]
fn slopes_are_what_a_short_step_does() {
    for (mut plant, state) in [
        (Plant::Enclosure(rack()), [47.0, 39.0, 36.5, 0.6]),
        (Plant::Vessel(kettle()), [70.0, 64.0, 61.0, 0.0]),
    ] {
        let duty = 0.35;
        let slopes = plant.slopes(&state, duty, AROUND);
        plant.set_state(state);
        assert_eq!(plant.state(), state);
        plant.advance(1e-5, duty, AROUND);
        for word in 0..plant.order() {
            let got = (plant.state()[word] - state[word]) / 1e-5;
            assert!(
                (got - slopes[word]).abs() < 1e-4 * (1.0 + slopes[word].abs()),
                "{word}: {got} {}",
                slopes[word]
            );
        }
    }
}
