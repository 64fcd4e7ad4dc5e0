"""Both readers of text: what they read, what they refuse, and that they explain every refusal."""

import math
from contextlib import suppress

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from mathlib import typed, units
from mathlib.errors import MathlibError, TextRefused, UnitError
from mathlib.spellings import SPELLINGS

GRAVITY = 9.80665  # m/s^2, exact by definition
POUND = 0.45359237  # kg, exact by definition
INCH = 25.4  # mm, exact by definition
OZ_IN = POUND / 16 * GRAVITY * 0.0254  # N*m

# The strict reader --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("9 mm", 9.0, "mm"),
        ("9mm", 9.0, "mm"),
        ("  9   mm  ", 9.0, "mm"),
        ("-1.5e3 mm/s", -1500.0, "mm/s"),
        ("−2.5 mm", -2.5, "mm"),
        ("+.5 mm", 0.5, "mm"),
        ("5. mm", 5.0, "mm"),
        ("0.4 N*m", 0.4, "N*m"),
        ("0.4 N·m", 0.4, "N*m"),
        ("20 %", 20.0, "%"),
        ("16 1", 16.0, "1"),
        ("80 step/mm", 80.0, "step/mm"),
        ("5 1/mm", 5.0, "1/mm"),
        ("20 degC", 20.0, "degC"),
        ("1.8 °", 1.8, "deg"),
        ("0.2 W/(m*K)", 0.2, "W/(m*K)"),
        ("54 g*cm^2", 54.0, "g*cm^2"),
        ("54 g·cm²", 54.0, "g*cm^2"),
        ("8 mil", 8.0, "thou"),  # a thousandth of an inch, not the mil of artillery
        ("3 mm2", 3.0, "mm^2"),
        ("5.4 × 10⁻⁶ kg*m^2", 5.4e-6, "kg*m^2"),  # as quantities are shown
        ("0e-400 mm", 0.0, "mm"),
        ("1e-320 mm", 1e-320, "mm"),
    ],
)
def test_strict_reads_one_number_and_one_unit(text, value, unit):
    found = typed.read(text)
    assert found.magnitude == value
    assert isinstance(found.magnitude, float)
    assert found.units == units.Q(1, unit).units


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("20", 'a unit is missing; write "20 mm", or "20 1" for a plain number'),
        ("", 'write such as "9 mm"'),
        ("   ", 'write such as "9 mm"'),
        ("mm", 'no finite number and unit: write such as "9 mm"'),
        ("nan mm", "no finite number"),
        ("inf mm", "no finite number"),
        ("-inf mm", "no finite number"),
        ("2,5 mm", 'decimal comma.*write such as "2.5 mm"'),
        ("1,234 mm", "comma"),
        ("1,234.5 mm", "comma"),
        ("1_000 mm", "underscore"),
        ("5 mm 6 mm", "two numbers"),
        ("9 mm 2", "two numbers"),
        ("5 V 4 A", "two numbers"),
        ("1 600 mW", "two numbers"),
        ("1/2 mm", 'fraction.*write such as "0.5 mm"'),
        ("1 1/2 in", "fraction"),
        ("5 /mm", 'write such as "5 1/mm"'),
        ("2**9**9**9 mm", "expression"),
        ("2*3 mm", "expression"),
        ("2 + 3 mm", "expression"),
        ("6-8 mm", "expression"),
        ("2^3 mm", "expression"),
        ("1e400 mm", "too large"),
        ("-1e400 mm", "too large"),
        ("1e-400 mm", "too small"),
        ("9" * 199 + "e999999", "too long"),
        ("9 mmm", "no unit 'mmm'.*Did you mean"),
        ("9 Kg", "no unit 'Kg'.*Did you mean"),
        ("9 N.m", "no unit"),
        ("0x10 mm", "no unit"),
        ("9 W/m*K", "two ways"),
        ("9 GW^9*TW^9*MW^9", "too many factors"),
        ("9 mm; import os", "no unit"),
        ("٣ mm", "no finite number"),
    ],
)
def test_strict_refuses_anything_else(text, sentence):
    with pytest.raises(TextRefused, match=sentence):
        typed.read(text)


@pytest.mark.parametrize("value", [9, 9.0, None, b"9 mm", ["9 mm"], units.Q(9, "mm"), {}])
@pytest.mark.parametrize(
    "reader", [typed.read, typed.number, lambda value: typed.as_typed(value, "mm")]
)
def test_only_text_is_read(reader, value):
    with pytest.raises(TextRefused, match=f"needed; got a {type(value).__name__}"):
        reader(value)


@pytest.mark.parametrize("unit", [None, 9, b"mm", units.Q(9, "mm")])
def test_the_wanted_unit_is_a_text(unit):
    with pytest.raises(TextRefused, match="a text such as"):
        typed.as_typed("9 mm", unit)


@pytest.mark.parametrize("unit", ["mmm", "Kg", "2 mm", "m" * 100])
def test_the_wanted_unit_is_known(unit):
    with pytest.raises(TextRefused, match="unit"):
        typed.as_typed("9 mm", unit)


@pytest.mark.parametrize(
    "text", ["9" * 10_000_000, "9" * 10_000_000 + " mm", " " * 10_000_000, "(" * 201, "a" * 300]
)
def test_long_texts_are_refused_unread_and_not_repeated(text):
    for reader in (typed.read, typed.number, lambda text: typed.as_typed(text, "mm")):
        with pytest.raises(TextRefused, match="too long") as refusal:
            reader(text)
        assert len(str(refusal.value)) < 200


def test_a_long_text_is_not_kept():
    before = typed._read.cache_info().currsize, typed._as_typed.cache_info().currsize
    for text in ("1" * 1000, "1" * 1001):
        with pytest.raises(TextRefused):
            typed.read(text)
        with pytest.raises(TextRefused):
            typed.as_typed(text, "mm")
    assert (typed._read.cache_info().currsize, typed._as_typed.cache_info().currsize) == before


@pytest.mark.parametrize("reader", [typed.read, lambda text: typed.as_typed(text, "mm")])
def test_the_caller_may_change_what_was_read(reader):
    first = reader("9 mm")
    first.ito("m")
    assert reader("9 mm").magnitude == 9.0


@pytest.mark.parametrize(
    ("text", "value"), [("16", 16.0), (" -1.5e3 ", -1500.0), (".5", 0.5), ("−2", -2.0)]
)
def test_plain_numbers(text, value):
    assert typed.number(text) == value


@pytest.mark.parametrize(
    "text", ["16 1", "16 mm", "1,5", "1/2", "2*3", "2**9", "nan", "inf", "", "1_0", "1e400", "0x10"]
)
def test_plain_numbers_only(text):
    with pytest.raises(TextRefused):
        typed.number(text)


# The lenient reader: what it reads ----------------------------------------------------------------

TORQUES = [
    ("65Ncm (92oz.in)", 0.65),  # 65 N*cm; 92 ozf*in are 0.6497
    ("65Ncm", 0.65),
    ("12.6 Kg-cm", 12.6 * GRAVITY / 100),
    ("12.6 kgf.cm", 12.6 * GRAVITY / 100),
    ("12.6 kgf·cm", 12.6 * GRAVITY / 100),
    ("12.6kg.cm.", 12.6 * GRAVITY / 100),
    ("4 KG-CM", 4 * GRAVITY / 100),
    ("4 kg-force cm", 4 * GRAVITY / 100),
    ("200 gcm", 0.2 * GRAVITY / 100),
    ("200 gf.cm", 0.2 * GRAVITY / 100),
    ("200 gm-cm", 0.2 * GRAVITY / 100),
    ("92oz.in", 92 * OZ_IN),
    ("92 oz-in", 92 * OZ_IN),
    ("92 ozf·in", 92 * OZ_IN),
    ("92 OZ-IN", 92 * OZ_IN),
    ("92 oz. in.", 92 * OZ_IN),
    ("92 oz.-in.", 92 * OZ_IN),
    ("92 in-oz", 92 * OZ_IN),
    ("92 ozin", 92 * OZ_IN),
    ("3.186 lb-inch", 3.186 * 16 * OZ_IN),
    ("3.5 in.-lbs.", 3.5 * 16 * OZ_IN),
    ("3.5 lbf-in", 3.5 * 16 * OZ_IN),
    ("2 ft-lb", 2 * 12 * 16 * OZ_IN),
    ("0.3 N.m", 0.3),
    ("0.4N·m", 0.4),
    ("0.4 N⋅m", 0.4),
    ("0.4 N × m", 0.4),
    ("0.4 N-m", 0.4),
    ("0.4 N m", 0.4),
    ("0.4 NM", 0.4),
    ("0.4 N.M.", 0.4),
    ("0.4 newton metres", 0.4),
    ("0.4 [N·m]", 0.4),
    ("0.4N.m(4.1kg.cm)", 0.4),  # 0.402
    ("15 inch-pounds", 15 * 16 * OZ_IN),
    ("15 lbf·ft", 15 * 12 * 16 * OZ_IN),
    ("400 mN.m", 0.4),
    ("400 mNm", 0.4),
    ("40 N.cm", 0.4),
    ("7.2 cNm", 0.072),
    ("2 x 10-3 N·m", 0.002),
    ("Holding torque 0.4 Nm (4 kg-cm)", 0.4),  # 4 kgf*cm are 0.392: 1.9 % less
    ("1.26 N·m (12.8 kg·cm, 178 oz-in)", 1.26),  # 1.2553 and 1.2570
    ("0,5 Nm (70 oz-in)", 0.5),  # 0.494
    ("65 Ncm / 92 oz-in", 0.65),
    ("65Ncm/92oz.in", 0.65),
    ("65 Ncm = 92 oz-in", 0.65),
    ("65 Ncm or 92 oz-in", 0.65),
    ("65 Ncm; 92 oz-in", 0.65),
    ("65 Ncm [92 oz-in]", 0.65),
]

LENGTHS = [
    ('3/16"', 3 / 16 * INCH),
    ("3\u204416″", 3 / 16 * INCH),
    ("40 1/16 in", 40.0625 * INCH),
    ("40-1/16 in", 40.0625 * INCH),
    ("40½ in", 40.5 * INCH),
    ("5/16-inch", 5 / 16 * INCH),
    ("9-mm", 9.0),
    ('2.032 mm (.080")', 2.032),
    ("1¼”", 1.25 * INCH),
    ('5/4"', 1.25 * INCH),
    ("1/2 mm", 0.5),
    ("12 ½ mm", 12.5),
    ('.25"', 0.25 * INCH),
    (",25 in", 0.25 * INCH),
    ("0.25''", 0.25 * INCH),
    ("0.25in.", 0.25 * INCH),
    ("0.25 inches", 0.25 * INCH),
    ("2'6\"", 30 * INCH),
    ("2′ 6 1/2″", 30.5 * INCH),
    ("5'-6\"", 66 * INCH),
    ("2 ft, 6 in", 30 * INCH),
    ("-5 ft 6 in", -66 * INCH),
    ("6'", 72 * INCH),
    ("8 mil", 8e-3 * INCH),
    ("8 thou", 8e-3 * INCH),
    ("2,54 mm", 2.54),
    ("-2,54 mm", -2.54),
    ("−2,54 mm", -2.54),
    ("1,234.5 mm", 1234.5),
    ("1.234,5 mm", 1234.5),
    ("1 234,5 mm", 1234.5),
    ("12'345.5 mm", 12345.5),
    ("12’345 mm", 12345.0),
    ("1.234 mm", 1.234),  # one point is a decimal point
    ("0,234 mm", 0.234),  # thousands do not begin with a nought
    ("1,2345 mm", 1.2345),
    ("1,234,567 mm", 1234567.0),
    ("1.234.567 mm", 1234567.0),
    ("1\u202f234\u00a0567 mm", 1234567.0),
    ("1,234 mm (1.234 mm)", 1.234),  # the second value decides
    ("1,000 mm (1 m)", 1000.0),
    ("5E3mm", 5000.0),
    ("5×10³ mm", 5000.0),
    ("5·10^-3 mm", 0.005),
    ("~0.08mm", 0.08),
    ("≈ 0.08 mm", 0.08),
    ("about 9 mm", 9.0),
    ("ca. 9 mm", 9.0),
    ("Ø 5 mm", 5.0),
    ("9 mm wide", 9.0),
    ("2 mm pitch", 2.0),
    ("9 MM", 9.0),
    ("9 ㎜", 9.0),
    ("\uff19 mm", 9.0),
    ("9 millimetres", 9.0),
    ("9±0.1 mm", 9.0),
    ("9 mm ± 0,1 mm", 9.0),
    ("9 mm +/-0.1", 9.0),
    ("9 mm (+0.1/-0)", 9.0),
    ("450nm", 450e-6),
    ("450 NM", 450e-6),
    ("10.6um", 0.0106),
    ("10,6 µm", 0.0106),
    ("10.6 μm", 0.0106),
    ("5 microns", 0.005),
    ("1 in (25 mm)", INCH),  # 1.6 % apart
    ("16ga wire", 1.2908),  # printed wire tables: 1.291 mm
    ("16 AWG", 1.2908),
    ("AWG16", 1.2908),
    ("#16 AWG", 1.2908),
    ("AWG 36", 0.127),  # the gauge is defined by 36: 0.005 in, and 4/0: 0.46 in
    ("4/0 AWG", 0.46 * INCH),
]

OTHERS = [
    ("300ipm", "mm/s", 127.0),  # 300 * 25.4 / 60
    ("300 IPM", "mm/s", 127.0),
    ("300 in/min.", "mm/s", 127.0),
    ("300 inches per minute", "mm/s", 127.0),
    ("10 in/sec", "mm/s", 254.0),
    ("14 m/min", "mm/s", 14e3 / 60),
    ("14 metros/min", "m/s", 14 / 60),
    ("3000 mm/min", "mm/s", 50.0),
    ("3000 mm/Min", "mm/s", 50.0),
    ("100 mm/Sek.", "mm/s", 100.0),
    ("100 mm.s-1", "mm/s", 100.0),
    ("100 MM/SEC", "mm/s", 100.0),
    ("12'000 mm/s²", "mm/s^2", 12000.0),
    ("3000 mm/s/s", "mm/s^2", 3000.0),
    ("0.5 g", "m/s^2", 0.5 * GRAVITY),
    ("0.5G", "m/s^2", 0.5 * GRAVITY),
    ("38 lbs", "N", 38 * POUND * GRAVITY),
    ("38 lbs hung on a belt", "N", 38 * POUND * GRAVITY),
    ("38 lbs", "kg", 38 * POUND),
    ("38 pound-force", "N", 38 * POUND * GRAVITY),
    ("375 gf", "N", 0.375 * GRAVITY),
    ("400 g", "N", 0.4 * GRAVITY),
    ("400 g", "kg", 0.4),
    ("12.5 kg thrust", "N", 12.5 * GRAVITY),
    ("5 daN", "N", 50.0),
    ("2 kp", "N", 2 * GRAVITY),
    ("2 lbs 4 oz", "kg", 2.25 * POUND),
    ("2 lb 4 oz", "N", 2.25 * POUND * GRAVITY),
    ("6 lb/in", "N/mm", 6 * POUND * GRAVITY / INCH),
    ("25 lbf per inch", "N/mm", 25 * POUND * GRAVITY / INCH),
    ("8.3 g/m", "kg/m", 8.3e-3),
    ("2 kg/cm2", "kPa", 2 * GRAVITY * 10),
    ("20 ksi", "psi", 20e3),
    ("30 psi (2 bar)", "psi", 30.0),  # 2.07 bar: within the rounding of 2
    ("9 N/mm²", "MPa", 9.0),
    # ozf*in*s^2 is a mass times an area: 0.00818 * 7.0616e-3 kg*m^2 = 5.776e-5 kg*m^2
    ("0.00818 oz-in-sec2", "g*cm^2", 0.00818 * OZ_IN * 1e7),
    ("54 g-cm2", "g*cm^2", 54.0),
    ("54 g.cm²", "g*cm^2", 54.0),
    ("54 gcm²", "g*cm^2", 54.0),
    ("82 g-cm^2", "g*cm^2", 82.0),
    ("54 G-CM2", "g*cm^2", 54.0),
    ("57×10⁻⁷ kg·m²", "g*cm^2", 57.0),  # 1 g*cm^2 = 1e-7 kg*m^2
    ("57 x 10^-7 kgm2", "g*cm^2", 57.0),
    ("0.3 oz-in²", "g*cm^2", 0.3 * POUND / 16 * 1e3 * 2.54**2),
    ("1 600 mW", "W", 1.6),
    ("1,600 mW (1.6 W)", "W", 1.6),
    ("about 30 W", "W", 30.0),
    ("5.5W optical", "W", 5.5),
    ("10 W (max)", "W", 10.0),
    ("max. 30 W", "W", 30.0),
    ("up to 30 W", "W", 30.0),
    ("3 watts", "W", 3.0),
    ("5V 4A", "W", 20.0),
    ("5V4A", "W", 20.0),
    ("12V/5A", "W", 60.0),
    ("12V-5A", "W", 60.0),
    ("12 V, 5 A", "W", 60.0),
    ("DC12V 5A", "W", 60.0),
    ("12V x 5A", "W", 60.0),
    ("24V DC 10A 240W", "W", 240.0),
    ("60W (12V/5A)", "W", 60.0),
    ("100mJ/cm^2", "J/m^2", 1000.0),  # 0.1 J / 1e-4 m^2
    ("1.2 kW/sq in", "W/mm^2", 1200 / INCH**2),
    ("2.8 mH ±20%", "mH", 2.8),
    ("2.8mH/phase ±20%", "mH", 2.8),
    ("1.68A/phase", "A", 1.68),
    ("1.68 A per phase", "A", 1.68),
    ("1.5 A rms", "A", 1.5),
    ("1500 ma", "A", 1.5),
    ("4.8VDC", "V", 4.8),
    ("24 V DC", "V", 24.0),
    ("12 volts", "V", 12.0),
    ("1.65 Ω ±10%", "ohm", 1.65),
    ("1.65 \u2126", "ohm", 1.65),
    ("1.65 Ohms/phase", "ohm", 1.65),
    ("2.2 mOhm", "ohm", 2.2e-3),
    ("2.2 MOhm", "ohm", 2.2e6),
    ("22.7 mV/rpm", "V/rpm", 0.0227),
    ("30 KHZ", "kHz", 30.0),
    ("0.71deg", "rad", 0.71 * math.pi / 180),
    ("1.8°", "deg", 1.8),
    ("0,9°", "deg", 0.9),
    ("1.8° ±5%", "deg", 1.8),
    ("0.9°/step", "deg", 0.9),
    ("1° 30'", "deg", 1.5),
    ("0°5'30\"", "deg", 5.5 / 60),
    ("1/4 turn", "deg", 90.0),
    ("1500 r/min", "rpm", 1500.0),
    ("1500 min⁻¹", "rpm", 1500.0),
    ("1500 U/min", "rpm", 1500.0),
    ("10 rps", "rpm", 600.0),
    ("200 steps/rev", "step", 200.0),
    ("200 steps per revolution", "step", 200.0),
    ("400 full steps", "step", 400.0),
    ("200", "step", 200.0),
    ("40 000 pulses/s", "step/s", 40000.0),
    ("20T", "1", 20.0),
    ("20 teeth", "1", 20.0),
    ("16 microsteps", "1", 16.0),
    ("16", "1", 16.0),
    ("20 %", "1", 0.2),
    ("20%", "%", 20.0),
    ("254 dpi", "1/mm", 10.0),
    ("10 lines/mm", "1/mm", 10.0),
    ("254 lines per inch", "1/mm", 10.0),
    ("16ga", "mm^2", 1.3087),  # printed wire tables: 1.31 mm^2
    ("22 AWG (0.33 mm²)", "mm^2", 0.32553),
    ("0.75 sq. mm", "mm^2", 0.75),
    ("25 C", "degC", 25.0),
    ("25ºC", "degC", 25.0),
    ("25 ℃", "degC", 25.0),
    ("20 deg C", "degC", 20.0),
    ("20 degrees Celsius", "degC", 20.0),
    ("140 F (60 C)", "degC", 60.0),  # (140 - 32) / 1.8
    ("23 °F (−5 °C)", "degC", -5.0),
    ("300 K", "degC", 26.85),
    ("38 K", "delta_degC", 38.0),
    ("0.2 W/mK", "W/(m*K)", 0.2),
    ("0.2 W/m·K", "W/(m*K)", 0.2),
    ("1550 J/kg K", "J/(kg*K)", 1550.0),
    ("0.68 g/cc", "kg/m^3", 680.0),
    ("100 CFM", "m^3/h", 100 * 0.3048**3 * 60),
    ("20 msec", "s", 0.02),
    ("1 h 20 min", "min", 80.0),
]
ROWS = [(text, "N*m", value) for text, value in TORQUES]
ROWS += [(text, "mm", value) for text, value in LENGTHS]
ROWS += OTHERS


@pytest.mark.parametrize(("text", "unit", "value"), ROWS)
def test_lenient_reads_what_people_write(text, unit, value):
    # Wire tables print four or five digits; everything else is arithmetic.
    tolerance = 5e-5 if "AWG" in text or "ga" in text else 1e-12
    found = typed.as_typed(text, unit)
    assert found.magnitude == pytest.approx(value, rel=tolerance)
    assert found.units == units.Q(1, unit).units


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("300ipm", "m/s", 0.127),
        ("14 metros/min", "m/s", 0.2333),
        ('3/16"', "m", 4.7625e-3),
        ("40 1/16 in", "m", 1.01759),
        ("2,54 mm", "m", 2.54e-3),
        ("12.6 Kg-cm", "N*m", 1.2356),
        ("92oz.in", "N*m", 0.6497),
        ("65Ncm", "N*m", 0.65),
        ("1 600 mW", "W", 1.6),
        ("100mJ/cm^2", "J/m^2", 1000.0),
        ("38 lbs", "N", 169.03),
        ("16ga", "mm", 1.291),
        ('.25"', "m", 6.35e-3),
        ("5V 4A", "W", 20.0),
        ("0.71deg", "rad", 12.39e-3),
    ],
)
def test_texts_of_a_message_that_a_builder_wrote(text, unit, value):
    # Values recomputed by a person to four digits.
    assert typed.as_typed(text, unit).magnitude == pytest.approx(value, rel=2e-4)


# The lenient reader: what it refuses --------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "unit", "sentence"),
    [
        # several readings, each as one would type it
        ("1,234 mm", "mm", r'several ways: write "1\.234 mm" or "1234 mm"'),
        ("10,000 mm/s²", "mm/s^2", r'"10\.000 mm/s\^2" or "10000 mm/s\^2"'),
        ("1,234 lbs", "N", r'"1\.234 lbf" or "1234 lbf"'),
        ("500 mw", "W", 'write "500 mW" or "500 MW"'),
        ("500 Mw", "W", 'write "500 mW" or "500 MW"'),
        ("2 mpa", "Pa", 'write "2 mPa" or "2 MPa"'),
        ("2 mhz", "Hz", 'write "2 mHz" or "2 MHz"'),
        ("1500 MA", "A", "mega or milli: write 'mA'"),
        ("9 Mm", "mm", "mega or milli: write 'mm'"),
        ("1/16 microsteps", "1", 'write "16" for a count, or "0.0625" for a size'),
        ("1/16 step", "1", 'write "16" for a count, or "0.0625" for a size'),
        # several values
        ("6–8 lbf", "N", 'range; write one value, "6 lbf" or "8 lbf"'),
        ("6-8 lbf", "N", "range"),
        ("6 to 8 lbf", "N", "range"),
        ("6...8 lbf", "N", "range"),
        ("6~8 lbf", "N", "range"),
        ("450nm-460nm", "nm", 'range; write one value, "450 nm" or "460 nm"'),
        ("2 mm-4 mm", "mm", "range"),
        ("-10…+50 °C", "degC", 'range; write one value, "-10 °C" or "50 °C"'),
        ("100-240V", "V", "range"),
        ("-20 ~ +50 ℃", "degC", 'range; write one value, "-20 °C" or "50 °C"'),
        ("24-28 AWG", "mm", 'range; write one value, "24 AWG" or "28 AWG"'),
        ("6 or 8 lbf", "N", 'several numbers; write one value, "6 lbf" or "8 lbf"'),
        ("12/24 V", "V", 'several numbers; write one value, "12 V" or "24 V"'),
        ("5/8 mm", "mm", "several numbers"),
        ("300 x 200 mm", "mm", 'a size or an expression; write one value, "300 mm" or "200 mm"'),
        ("300 mm × 300 mm", "mm", "a size or an expression"),
        ("1 23 mm", "mm", "several numbers"),
        # values that should agree and do not
        ("65 Ncm (120 oz.in)", "N*m", r"not agree: 0\.65 N\*m and 0\.8474 N\*m, 0\.2 N\*m apart"),
        ("65 Ncm, 82 oz.in", "N*m", "do not agree"),
        ("3 mm (1/8 in)", "mm", r"3 mm and 3\.175 mm, 0\.17 mm apart"),
        ("120 F (50 C)", "degC", r"48\.89 degC and 50 degC, 1\.1 degC apart"),
        ("40 W (5.5 W optical)", "W", "do not agree"),
        ("5 V 4 A 25 W", "W", "20 W and 25 W"),
        ("18 AWG (0.75 mm²)", "mm^2", r"0\.823 mm\^2 and 0\.75 mm\^2"),
        # words and signs that are not understood
        ("5 W foo", "W", "do not understand 'foo'"),
        ("1.2 A peak", "A", "do not understand 'peak'"),
        ("20 lines", "1", "do not understand 'lines'"),
        ("16ga sheet", "mm", "do not understand 'sheet'"),
        ("≤ 0.08 mm", "mm", "do not understand '≤"),
        ("±5 nm", "nm", "do not understand '±5 nm'"),
        ("375 gf + 57 gf/mm", "N", "expression"),
        ("1_000 mm", "mm", "do not understand '_000"),
        ("nan mm", "mm", "do not understand"),
        ("inf mm", "mm", "do not understand"),
        ("mm", "mm", "do not understand 'mm'"),
        ("", "mm", "a number with a unit is needed"),
        (" ( ) ", "mm", "a number with a unit is needed|do not understand"),
        ("5 mm =", "mm", "a number with a unit is needed"),
        # numbers that are none, or not to be evaluated
        ("20", "mm", 'a unit is missing; write one value, "20 mm"'),
        ("20", "%", 'a unit is missing; write one value, "20 %"'),
        ("0.5", "deg", "a unit is missing"),
        ("2**9**9**9 mm", "mm", "expression"),
        ("2*3 mm", "mm", "expression"),
        ("2^9 mm", "mm", "do not understand"),
        ("1.2.3 mm", "mm", "'1.2.3' is not one number"),
        ("1,23,456 mm", "mm", "is not one number"),
        ("1e400 mm", "mm", "too large"),
        ("1e999999999999999 mm", "mm", "too large"),
        ("1e-400 mm", "mm", "too small"),
        ("1e308 km", "nm", "out of range"),
        ("1e-320 nm", "km", "out of range"),
        ("0x10 mm", "mm", "expression"),
    ],
)
def test_lenient_refuses_what_is_not_one_value(text, unit, sentence):
    with pytest.raises(TextRefused, match=sentence) as refusal:
        typed.as_typed(text, unit)
    assert str(refusal.value).startswith(repr(text))


@pytest.mark.parametrize(
    ("text", "unit", "sentence"),
    [
        ("40 N/cm", "N*m", r"a torque.*got 40 N/cm\. Did you mean 'N\*cm'\?"),
        ("0.4 nm", "N*m", r'got 0\.4 nm\. Did you mean "0\.4 N\*m"\?'),
        ("60 rpm", "Hz", "cycles.*got 60 rpm"),
        ("3 mm/rev", "mm", "radians or turns"),
        ("1.8 deg", "1", "a plain number"),
        ("300 dpi", "mm", r'got 300 dpi, a number per length.*write "0\.08467 mm"'),
        ("10 lines/mm", "um", 'write "100 um"'),
        ("25 C", "A*s", "got 25 °C"),
        ("140 F", "delta_degC", "a difference; got 140 °F"),
        ("80 delta_degC", "K", "a temperature.*the difference"),
        ("38 lbs", "W", "a power.*got 38 lb"),
        ("24V 10A", "V", "got 10 A"),
        ("65 Ncm @ 2.1A", "N*m", r"got 2\.1 A"),
        ("5 V", "W", "got 5 V"),
        ("16ga", "V", "a voltage"),
        ("5 mm mm", "mm", "got 5 mm²"),
        ("500 W/mK", "W", "a power"),
    ],
)
def test_lenient_says_what_is_wanted_instead_of_another_kind(text, unit, sentence):
    with pytest.raises(UnitError, match=sentence):
        typed.as_typed(text, unit)


def test_of_two_values_that_agree_the_first_counts():
    assert typed.as_typed("65Ncm (92oz.in)", "N*m").magnitude == 0.65
    swapped = typed.as_typed("92oz.in (65Ncm)", "N*m").magnitude
    assert swapped == pytest.approx(92 * OZ_IN, rel=1e-12)


@pytest.mark.parametrize("wanted", ["N", "kg"])
@pytest.mark.parametrize("word", ["lb", "lbs", "pounds", "oz", "ounces", "kg", "Kg", "g", "grams"])
def test_words_of_trade_are_a_mass_or_a_force_as_wanted(word, wanted):
    mass = typed.as_typed(f"10 {word}", "kg").magnitude
    there = 1.0 if wanted == "kg" else GRAVITY
    assert typed.as_typed(f"10 {word}", wanted).magnitude == pytest.approx(mass * there, rel=1e-12)


# Properties ---------------------------------------------------------------------------------------

SPELLED = sorted(SPELLINGS)
finite = st.floats(allow_nan=False, allow_infinity=False)


@pytest.mark.parametrize("unit", SPELLED)
def test_every_spelling_is_read_by_both(unit):
    found = typed.read(f"9 {unit}")
    assert (found.magnitude, found._units) == (9.0, units.container(unit))
    again = typed.as_typed(f"9 {unit}", unit)
    assert (again.magnitude, again._units) == (9.0, units.container(unit))


@given(finite, st.sampled_from(SPELLED), st.sampled_from(["", " ", "\u00a0"]))
def test_what_python_prints_is_read_back_exactly(value, unit, space):
    text = f"{value!r}{space}{unit}"
    found = typed.read(text)
    assert found.magnitude == value
    assert found._units == units.container(unit)
    lenient = typed.as_typed(text, unit)
    assert (lenient.magnitude, lenient._units) == (found.magnitude, found._units)


@given(finite, st.sampled_from(["mm", "N*m", "W/(m*K)", "1/mm", "g*cm^2", "ohm", "degC", "%"]))
def test_what_the_product_shows_is_read_back(value, unit):
    shown = units.show(units.Q(value, unit), digits=17)
    assert typed.read(shown).magnitude == value


@given(st.integers(-(10**9), 10**9), st.integers(0, 4), st.sampled_from(["N*m", "mm", "mW"]))
def test_points_commas_and_groups_do_not_change_a_number(number, places, unit):
    value = number / 10**places
    plain = f"{value:.{places}f}"
    whole, _, decimals = f"{value:,.{places}f}".partition(".")
    for group in (" ", "\u202f", "'", "."):
        text = whole.replace(",", group) + ("," + decimals if decimals else "")
        one_point = group == "." and text.count(".") == 1 and "," not in text
        one_comma = len(decimals) == 3 and text.count(",") == 1 and not set(" .'\u202f") & set(text)
        if not one_point and not one_comma:
            assert typed.as_typed(f"{text} {unit}", unit).magnitude == float(plain)


@given(
    st.floats(0.1, 1000),
    st.sampled_from(
        [("Ncm", 0.01), ("oz-in", OZ_IN), ("kg.cm", GRAVITY / 100), ("lb.in", OZ_IN * 16)]
    ),
    st.sampled_from([("Nm", 1.0), ("oz.in", OZ_IN), ("kgf·cm", GRAVITY / 100)]),
    st.sampled_from(["{} ({})", "{} / {}", "{} = {}", "{}, {}", "{} or {}"]),
)
def test_a_printed_pair_agrees_and_one_off_by_a_tenth_does_not(torque, one, two, joined):
    first = f"{torque / one[1]:.4g} {one[0]}"
    assert typed.as_typed(joined.format(first, f"{torque / two[1]:.4g} {two[0]}"), "N*m")
    with pytest.raises(TextRefused, match="do not agree"):
        typed.as_typed(joined.format(first, f"{torque * 1.1 / two[1]:.4g} {two[0]}"), "N*m")


WANTED = ["mm", "N*m", "1", "step", "W", "degC", "delta_degC", "Hz", "kg*m^2", "%", "N", "mm^2"]
PIECES = [
    *"0123456789.,'\"°%+-*/^()[]=;:~±×·²³½−–_ ex#",
    *(
        "mm",
        "Ncm",
        "oz",
        "in",
        "lb",
        "kg",
        "Kg",
        "g",
        "cm",
        "sec2",
        "V",
        "A",
        "W",
        "mW",
        "MW",
        "ga",
    ),
    *(
        "AWG",
        "rpm",
        "ft",
        "'",
        '"',
        "C",
        "deg",
        "F",
        " or ",
        " to ",
        "max",
        "about",
        "phase",
        "per",
    ),
    *("TW^9", "fs^9", "GW9", "1e400", "e308", "e-320", "10^", "steps", "dpi", "K", "\u00a0", "/0"),
    *("12", "2,5", "1 600", "1,234", "1.234,5", "3/16", "40 1/16", "**9", "(92oz.in)", "±20%"),
]
arbitrary = st.one_of(
    st.text(max_size=250),
    st.lists(st.sampled_from(PIECES), max_size=40).map("".join),
    st.lists(st.sampled_from(PIECES), max_size=8).map(" ".join),
)


@settings(max_examples=1500)
@given(arbitrary, st.sampled_from(WANTED))
@example("2**9**9**9 mm", "mm")
@example("1/0 in", "mm")
@example("9 TW^9*TW^9", "W")
@example("1e308 V 1e308 A", "W")
@example("((((", "mm")
@example("5 ft 0 in", "mm")
def test_every_text_is_read_or_refused_with_a_sentence(text, unit):
    for reader in (typed.read, typed.number, lambda text: typed.as_typed(text, unit)):
        try:
            found = reader(text)
        except MathlibError as refusal:
            assert 20 < len(str(refusal)) < 1500  # noqa: PT017 - a refusal is no failure
        else:
            assert math.isfinite(found if isinstance(found, float) else found.magnitude)


@given(arbitrary, st.sampled_from(WANTED))
def test_the_lenient_reader_gives_the_wanted_unit(text, unit):
    try:
        found = typed.as_typed(text, unit)
    except MathlibError:
        return
    assert found._units == units.container(unit)


@pytest.mark.parametrize(
    "text",
    [
        "9" * 200,
        "(" * 200,
        "1 " * 100,
        "m*" * 100,
        "1/2 " * 50,
        "g " * 100,
        "1,234 " * 33,
        "1 g " * 50,
        "5 " + "g*" * 90 + "g",
        "5 lb " * 40,
    ],
)
def test_texts_that_invite_long_searches_are_soon_answered(text):
    for unit in ("mm", "N", "1"):
        with suppress(MathlibError):
            typed.as_typed(text, unit)
