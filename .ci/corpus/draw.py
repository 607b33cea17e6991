#!/usr/bin/env python3
"""Draws designs over every key that `hushloop keys --json` lists, legal and illegal.

draw.py PROGRAM SEED COUNT DIR : writes COUNT designs to DIR, the same for the same seed and the same keys.

A design starts from one of two skeletons that say no more than what must hang together (a sensor that its converter can
see, gains of the right size). Then some keys are moved: within their range on a logarithmic or an even scale, to
either end of the range, or (in an illegal design) out of it, to another type, or away. Names say what was done."""
import json
import math
import random
import subprocess
import sys
from pathlib import Path

COOLING = {
    "": {"title": "corpus"},
    "sensor": {"kind": "ntc-beta", "r25_ohm": 10000, "beta_kelvin": 3435},
    "divider": {"sensor_side": "supply", "resistor_ohm": 10000},
    "adc": {"bits": 10},
    "table": {"low_celsius": -10, "high_celsius": 100},
    "loop": {"action": "cooling", "set_point_celsius": 38, "period_s": 0.5, "trip_celsius": 46,
             "kp_percent_per_kelvin": 4, "ki_percent_per_kelvin_second": 0.07},
    "fan": {"floor_percent": 20},
    "plant": {"mass_joule_per_kelvin": 9000, "air_joule_per_kelvin": 2400, "still_w_per_kelvin": 14,
              "blown_w_per_kelvin": 30, "leak_w_per_kelvin": 3, "ventilation_w_per_kelvin": 38, "load_w": 180},
    "scenario": {"duration_s": 3600},
    "accept": {},
}
HEATING = {
    "": {"title": "corpus"},
    "sensor": {"kind": "platinum", "r0_ohm": 1000},
    "divider": {"sensor_side": "ground", "resistor_ohm": 3300},
    "adc": {"bits": 14},
    "table": {"low_celsius": 0, "high_celsius": 160},
    "loop": {"action": "heating", "set_point_celsius": 66, "period_s": 0.5, "trip_celsius": 75,
             "kp_percent_per_kelvin": 18, "ki_percent_per_kelvin_second": 0.02},
    "heater": {},
    "plant": {"heater_w": 2000, "heater_joule_per_kelvin": 1500, "contents_joule_per_kelvin": 84000,
              "coupling_w_per_kelvin": 120, "loss_w_per_kelvin": 7},
    "scenario": {"duration_s": 3600},
    "accept": {},
}
KINDS = {  # what each kind of sensor needs, of an ordinary one
    "ntc-beta": {"r25_ohm": 10000, "beta_kelvin": 3435},
    "ntc-steinhart-hart": {"through": [[0, 30000], [25, 10000], [70, 2000]]},
    "platinum": {"r0_ohm": 1000},
    "points": {"points": [[-60, 1000000], [-20, 77500], [0, 28704], [25, 10000], [60, 2981], [110, 780], [200, 90]]},
}


def value(rng, key):
    """A legal value: a corner as often as anything between."""
    if "words" in key:
        return rng.choice(key["words"])
    low, high = key["min"], key["max"]
    way = rng.random()
    if way < 0.3:
        number = rng.choice([low, high])
    elif low > 0 and high / low > 50:
        number = math.exp(rng.uniform(math.log(low), math.log(high)))
    else:
        number = rng.uniform(low, high)
    return round(number) if key["kind"] == "whole number" else float(f"{number:.6g}")


def wrong(rng, key):
    """A value that its own key must refuse."""
    if "words" in key or key["kind"] == "text":
        return rng.choice([3, "", "no such word\x7f", [], True])
    if "min" in key:
        return rng.choice([key["max"] * 1.01 + 1, key["min"] - 1 - abs(key["min"]) * 0.01, float("nan"), float("inf"), "1",
                           [1], True])
    return rng.choice([3, "text", True])


def toml(v):
    if isinstance(v, bool):
        return str(v).lower()
    if isinstance(v, str):
        return json.dumps(v)
    if isinstance(v, list):
        return "[" + ", ".join(toml(x) for x in v) + "]"
    if isinstance(v, float) and (math.isnan(v) or math.isinf(v)):
        return "nan" if math.isnan(v) else "inf"
    return repr(v)


def text(design, events):
    out = []
    for section, keys in design.items():
        if section:
            out.append(f"\n[{section}]")
        out += [f"{k} = {toml(v)}" for k, v in keys.items()]
    for event in events:
        out.append("\n[[scenario.event]]")
        out += [f"{k} = {toml(v)}" for k, v in event.items()]
    return "\n".join(out) + "\n"


def draw(rng, keys, number):
    cooling = rng.random() < 0.5
    design = {s: dict(v) for s, v in (COOLING if cooling else HEATING).items()}
    other = "heater" if cooling else "fan"
    condition = "heating" if cooling else "cooling"
    if rng.random() < 0.3:
        kind = rng.choice(sorted(KINDS))
        design["sensor"] = {"kind": kind, **KINDS[kind]}
    movable = [k for k in keys if k["kind"] in ("number", "whole number", "word") and k["section"] in design
               and k["section"] != other and k["key"] not in ("kind", "action")
               and condition not in k.get("needed_when", "")]
    if design["sensor"]["kind"] != "ntc-beta":
        movable = [k for k in movable if "ntc-beta" not in k.get("needed_when", "")]
    if design["sensor"]["kind"] != "platinum":
        movable = [k for k in movable if "platinum" not in k.get("needed_when", "") and not k["key"].startswith("slope")]
    else:
        movable = [k for k in movable if not k["key"].startswith("beta")]
    movable = [k for k in movable if "steinhart" not in k.get("needed_when", "")]
    name = []
    for key in rng.sample(movable, rng.choice([0, 1, 1, 1, 2, 2, 3, 5])):
        design[key["section"]][key["key"]] = value(rng, key)
        name.append(key["key"].split("_")[0])
    events = []
    for n in range(rng.choice([0, 0, 1, 2])):
        events.append({"at_s": 600 * (n + 1) + rng.randrange(500), **rng.choice(
            [{"load_w": 300}, {"ambient_celsius": 35}, {"set_point_celsius": design["loop"]["set_point_celsius"] + 1}])})
    way = "drawn"
    if rng.random() < 0.3:
        way = rng.choice(["wrong", "away", "unknown", "torn"])
        section = rng.choice([s for s in design if design[s]])
        key = rng.choice(sorted(design[section]))
        if way == "wrong":
            entry = next(k for k in keys if k["section"] == section and k["key"] == key)
            design[section][key] = wrong(rng, entry)
        elif way == "away":
            del design[section][key]
        elif way == "unknown":
            design[section][key + "s"] = design[section][key]
    body = text(design, events)
    if way == "torn":
        cut = rng.randrange(len(body))
        body = body[:cut] + rng.choice(["", "]", "\"", "=", "\x00"]) + body[cut + rng.randrange(40):]
    return f"{number:03}-{way}-{'-'.join(name[:3]) or 'plain'}", body


def main():
    program, seed, count, folder = sys.argv[1], int(sys.argv[2]), int(sys.argv[3]), Path(sys.argv[4])
    keys = json.loads(subprocess.run([program, "keys", "--json"], check=True, capture_output=True).stdout)
    rng = random.Random(seed)
    folder.mkdir(parents=True, exist_ok=True)
    for number in range(count):
        name, body = draw(rng, keys, number)
        (folder / f"{name}.toml").write_text(body, encoding="utf-8")


if __name__ == "__main__":
    main()
