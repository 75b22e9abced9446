"""Units against NIST Special Publication 811 (2008), appendix B.8, and against pint's own list.

Factors marked exact are exact by definition; printed ones have the digits the table prints.
"""

from __future__ import annotations

import pytest

from ridelog.units import KINDS, QuantityError, parse_quantity, parse_reading, unit_factor

# (unit as the trade writes it, kind, factor to SI, relative tolerance)
NIST_SP_811_B8 = [
    ("in", "length", 0.0254, 0),  # exact
    ("ft", "length", 0.3048, 0),  # exact
    ("mi", "length", 1609.344, 0),  # exact
    ("mil", "length", 2.54e-5, 0),  # exact
    ("lb", "mass", 0.45359237, 0),  # exact
    ("slug", "mass", 14.59390, 5e-7),  # printed
    ("lbf/in", "rate", 175.1268, 5e-7),  # printed
    ("lbf/ft", "rate", 14.59390, 5e-7),  # printed
    ("kgf/mm", "rate", 9806.65, 0),  # exact
    ("psi", "pressure", 6894.757, 5e-7),  # printed
    ("bar", "pressure", 1e5, 0),  # exact
    ("kPa", "pressure", 1e3, 0),  # exact
    ("mph", "speed", 0.44704, 0),  # exact
    ("km/h", "speed", 1 / 3.6, 0),  # exact
    ("kn", "speed", 1852 / 3600, 0),  # exact
    ("g", "acceleration", 9.80665, 0),  # exact
    ("h", "time", 3600.0, 0),  # exact
]


@pytest.mark.parametrize(
    ("unit", "kind", "factor", "tolerance"), NIST_SP_811_B8, ids=[row[0] for row in NIST_SP_811_B8]
)
def test_factor_is_the_published_one(unit, kind, factor, tolerance):
    assert unit_factor(unit, kind) == pytest.approx(factor, rel=tolerance or 4e-16, abs=0)
    assert parse_quantity(f"2 {unit}", kind) == pytest.approx(2 * factor, rel=tolerance or 4e-16)


# The same word may mean another unit in pint's full list, hence the pairs.
AGAINST_PINT = [
    ("N/mm", "rate", "N/mm"),
    ("lb/in", "rate", "force_pound/inch"),
    ("lbs/in", "rate", "force_pound/inch"),
    ("kg/mm", "rate", "force_kilogram/mm"),
    ("kg/cm", "rate", "force_kilogram/cm"),
    ("kN/m", "rate", "kN/m"),
    ("thou", "length", "thou"),
    ("cm", "length", "cm"),
    ("t", "mass", "metric_ton"),
    ("g", "mass", "gram"),
    ("mbar", "pressure", "millibar"),
    ("hPa", "pressure", "hectopascal"),
    ("MPa", "pressure", "megapascal"),
    ("kgf/cm^2", "pressure", "force_kilogram/cm**2"),
    ("m/s²", "acceleration", "m/s**2"),
    ("m/s2", "acceleration", "m/s**2"),
    ("ft/s^2", "acceleration", "foot/s**2"),
    ("mg", "acceleration", "0.001 * standard_gravity"),
    ("ft/s", "speed", "foot/s"),
    ("kHz", "frequency", "kilohertz"),
    ("us", "time", "microsecond"),
    ("µs", "time", "microsecond"),
    ("min", "time", "minute"),
    ("%", "ratio", "percent"),
]


def test_every_unit_agrees_with_pints_own_definitions():
    import pint

    full = pint.UnitRegistry()
    for unit, kind, name in AGAINST_PINT:
        si = KINDS[kind].si_unit.replace("count", "dimensionless")
        expected = full.Quantity(name).to(si).magnitude
        assert unit_factor(unit, kind) == pytest.approx(expected, rel=1e-14), unit


@pytest.mark.parametrize(
    ("text", "kind", "expected"),
    [
        ("450 lbf/in", "rate", 78807.0758609),
        ("25 lb/in", "rate", 4378.1708812),
        ("1.30 Hz", "frequency", 1.3),
        ("+1.3e0Hz", "frequency", 1.3),
        (".5 in", "length", 0.0127),
        ("-48  mm", "length", -0.048),
        ("30 PSI", "pressure", 206842.718795),
        ("230 N per mm", "rate", 230e3),
        ('60"', "length", 1.524),
        ("5 '", "length", 1.524),
        ("9.81 mps2", "acceleration", 9.81),
    ],
)
def test_ways_of_writing(text, kind, expected):
    assert parse_quantity(text, kind) == pytest.approx(expected, rel=1e-11)


def test_the_step_between_springs_from_pounds_to_newtons_and_back():
    # 1 N/mm is 5.710 147 155 lbf/in: NIST SP 811 (2008), B.8, reciprocal of 175.126 835 N/m.
    assert unit_factor("N/mm", "rate") / unit_factor("lbf/in", "rate") == pytest.approx(
        5.710147155, rel=1e-9
    )


@pytest.mark.parametrize(
    ("text", "kind", "message"),
    [
        (450, "rate", '450 has no unit; write it like "450 lbf/in"'),
        (0.5, "length", '0.5 has no unit; write it like "42 mm"'),
        ("42", "length", '"42" has no unit; write it like "42 mm"'),
        ("mm", "length", '"mm" is not a length; write it like "42 mm"'),
        ("", "mass", '"" is not a mass; write it like "780 kg"'),
        ("nan kg", "mass", '"nan kg" is not a mass; write it like "780 kg"'),
        ("1e999 kg", "mass", '"1e999 kg" is not a mass; write it like "780 kg"'),
        ("1,3 Hz", "frequency", '"1,3 Hz" has a comma in the number; write a point instead'),
        ("3 kg", "length", 'unit "kg" is not that of a length; write it like "42 mm"'),
        ("3 furlongs", "length", 'unit "furlongs" is not known; write a length like "42 mm"'),
        ("3 m**99", "length", 'unit "m**99" is not known; write a length like "42 mm"'),
        ("3 _", "length", 'unit "_" is not known; write a length like "42 mm"'),
        ("3 m)", "length", 'unit "m)" is not known; write a length like "42 mm"'),
        (True, "length", 'True is not a length; write it like "42 mm"'),
        (None, "speed", 'None is not a speed; write it like "56 km/h"'),
    ],
)
def test_wording_of_faults(text, kind, message):
    with pytest.raises(QuantityError) as error:
        parse_quantity(text, kind)
    assert str(error.value) == message


def test_readings_in_the_columns_unit():
    assert parse_reading("520 mV", "V") == pytest.approx(0.52)
    assert parse_reading(512, None) == 512
    with pytest.raises(QuantityError) as error:
        parse_reading("5 V", None)
    assert str(error.value) == '"5 V" has a unit but the column has none; add unit = "V"'
