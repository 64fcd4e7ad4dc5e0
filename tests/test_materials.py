"""Materials: names as people write them, what is refused and why, and where numbers come from."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mathlib import Q, materials, tables, units
from mathlib.errors import NotUnique, TableError, ValueRefused
from mathlib.materials import NeverProcess, material

NEVER = materials.names("never")


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("PVC", "PVC"),
        ("vinyl", "PVC"),
        ("VINYL ", "PVC"),
        ("faux leather", "PVC"),
        ("polyvinyl-chloride", "PVC"),
        ("acrylic", "acrylic"),
        ("pmma", "acrylic"),
        ("cast clear acrylic", "clear acrylic"),
        ("POM", "acetal"),
        ("veg-tan leather", "vegetable-tanned leather"),
        ("Leather", "leather of unknown tanning"),
        ("Birch Ply", "birch plywood"),
        ("lime wood", "basswood"),
        ("safety glass", "polyvinyl butyral"),
        ("FR-4", "epoxy or phenolic laminate"),
        ("galvanized steel", "coated or plated metal"),
        ("P.V.C.", "PVC"),
        ("Birkensperrholz", "birch plywood"),
        ("untreated oak", None),
        ("halogen-free card", None),
        ("halogenfreie Pappe", None),
        ("fluorescent acrylic", None),
    ],
)
def test_a_name_is_found_as_people_write_it(written: str, name: str | None) -> None:
    found = material(written)
    assert (found.name == name) if name else (found.hazard == "unknown")


# From lists of what laser workshops ban: each must be refused however it is written.
@pytest.mark.parametrize(
    "written",
    [
        "PVC",
        " vinyl",
        " PTFE",
        " FEP film",
        " ABS",
        " SAN",
        " polycarbonate",
        " PC",
        " fibreglass",
        " carbon fiber",
        " epoxy",
        "\n    phenolic board",
        " chrome-tanned leather",
        " leather",
        " polyurethane foam",
        " PU",
        " polystyrene foam",
        " EPS",
        "\n    polyvinyl butyral",
        " nitrocellulose",
        " magnesium",
        " battery",
        " spray can",
        " brominated plastic",
        "\n    flame-retarded stock",
        " galvanised steel",
        " lead-painted metal",
        " beryllium oxide",
        " treated wood",
        "\n    painted wood",
        " plywood of unknown glue",
        " chloroprene",
        " vinyl-coated card",
        " flame-retarded MDF",
        "\n    painted birch plywood",
        " chlorinated rubber",
        " PVC foam board",
        " cowhide leather",
        "vinyls",
        "fake leather",
        "Kunstleder",
        "Hart-PVC-Folie",
        "Polyvinylchlorid",
        "Polycarbonatplatte",
        "PC sheet",
        "CD",
        "Epoxidharz",
        "printed circuit board",
        "HPL board",
        "laminated MDF",
        "Glasfaserplatte",
        "glass fibre sheet",
        "carbon-fibre sheet",
        "Kohlefaserplatte",
        "Chromleder",
        "chromed leather",
        "Wildleder",
        "Polystyrolplatte",
        "foam core",
        "neopren wetsuit rubber",
        "Zelluloid",
        "verzinktes Stahlblech",
        "electroplated steel",
        "powder-coated aluminium",
        "painted steel",
        "lackiertes Sperrholz",
    ],
)
def test_what_is_banned_is_refused_with_reason_even_with_a_sheet(written: str) -> None:
    found = material(written)
    assert found.hazard == "never"
    with pytest.raises(NeverProcess, match=r"is never to be processed: .{20}"):
        found.for_processing(supplier_sheet="a sheet of 2026")
    with pytest.raises(ValueError, match="never"):
        found.for_processing()


@pytest.mark.parametrize(
    ("written", "gas"),
    [
        ("vinyl", "hydrogen chloride"),
        ("PTFE", "hydrogen fluoride"),
        ("ABS", "hydrogen cyanide"),
        ("polycarbonate", "phenol"),
        ("PU foam", "isocyanates"),
        ("leather", r"chromium\(VI\)"),
        ("galvanised steel", "zinc oxide fume"),
        ("galvanised", "zinc oxide fume"),
        ("verzinkt", "zinc oxide fume"),
        ("chrome-plated steel", "zinc oxide fume"),
        ("coated steel", "zinc oxide fume"),
        ("faux leather cloth", "hydrogen chloride"),
        ("vegan leather cloth", "hydrogen chloride"),
        ("Kunstlederstoff", "hydrogen chloride"),
        ("chromed leather", r"chromium\(VI\)"),
        ("glass-fibre sheet", "phenol, amines, fibre dust"),
        ("carbon fibre sheet", "phenol, amines, fibre dust"),
        ("polyvinyl butyral film", "aldehydes"),
    ],
)
def test_the_refusal_names_the_gas(written: str, gas: str) -> None:
    with pytest.raises(NeverProcess, match=gas):
        material(written).for_processing()


def test_looking_is_not_using() -> None:
    found = material("PVC")
    assert found.absorption_coefficient_10600nm is not None
    assert "hydrogen chloride" in repr(found)


@given(st.sampled_from(NEVER), st.randoms(use_true_random=False))
def test_case_and_order_of_words_never_lift_a_ban(name: str, random) -> None:
    words = re.findall(r"\w+", name)
    random.shuffle(words)
    text = " ".join(random.choice((w.lower(), w.upper(), w.title())) for w in words)
    assert material(text).hazard == "never"


@given(st.text(min_size=1).filter(lambda text: text.strip()))
def test_any_name_gets_a_record_or_a_sentence(name: str) -> None:
    try:
        told = material(name).hazard
    except NotUnique as fault:
        told = str(fault)
    assert told in (*materials.GROUPS, "unknown") or "name which" in told or "did you mean" in told


class TestUnknown:
    def test_it_is_refused_until_a_sheet_is_named(self) -> None:
        odd = material("unobtainium")
        assert odd.hazard == "unknown"
        with pytest.raises(ValueRefused, match="data sheet") as caught:
            odd.for_processing()
        assert "Do not burn a sample" in str(caught.value)
        with pytest.raises(ValueRefused, match="data sheet"):
            odd.for_processing(supplier_sheet="  ")
        assert "sheet 7" in odd.for_processing(supplier_sheet="sheet 7")[0]

    def test_a_misspelling_is_asked_back(self) -> None:
        with pytest.raises(NotUnique, match="did you mean 'birch plywood'"):
            material("birch plywod")
        with pytest.raises(LookupError, match="'PVC'"):
            material("PCV")

    @pytest.mark.parametrize(
        ("sheet", "gas"),
        [
            ("PVC-coated polyester, sheet of 2026", "hydrogen chloride"),
            ("holds fluorine", "hydrogen fluoride"),
            ("flame-retarded grade", "hydrogen bromide"),
            ("no chlorine; polycarbonate blend", "bisphenol A"),
        ],
    )
    def test_a_sheet_that_names_what_is_banned_bans(self, sheet: str, gas: str) -> None:
        with pytest.raises(NeverProcess, match=gas):
            material("unobtainium").for_processing(supplier_sheet=sheet)

    @pytest.mark.parametrize(
        "sheet",
        [
            "sheet 7",
            "free of chlorine, fluorine and bromine",
            "No PVC, ABS or lead.",
            "halogen-free, sheet of 2026",
            "holds neither chlorine nor isocyanates",
        ],
    )
    def test_a_sheet_that_denies_it_does_not(self, sheet: str) -> None:
        assert sheet in material("unobtainium").for_processing(supplier_sheet=sheet)[0]

    @pytest.mark.parametrize(
        ("written", "told"),
        [
            ("PCV", r"PVC \(hydrogen chloride, benzene\)"),
            ("policarbonate", r"Never to be processed: polycarbonate \(phenol, bisphenol A\)"),
            ("foam", r"polyurethane \(isocyanates, hydrogen cyanide\), polystyrene \(styrene"),
        ],
    )
    def test_a_name_that_may_be_banned_is_asked_back_with_the_gas(self, written, told) -> None:
        with pytest.raises(NotUnique, match=told):
            material(written)

    def test_a_misspelling_of_what_is_allowed_speaks_of_no_ban(self) -> None:
        with pytest.raises(NotUnique) as caught:
            material("birch plywod")
        assert "Never" not in str(caught.value)

    def test_another_material_of_a_like_name_can_be_named(self) -> None:
        assert materials.unlisted("birch plywod").hazard == "unknown"
        assert materials.unlisted("Vinyl").name == "PVC", "what is listed stays what it is"

    @pytest.mark.parametrize("short", ["plywood", "foam", "rubber", "plastic", "aluminium", "felt"])
    def test_a_short_name_says_which(self, short: str) -> None:
        with pytest.raises(NotUnique, match=r"may be .* or .*: name which"):
            material(short)

    def test_a_short_name_says_which_are_banned(self) -> None:
        with pytest.raises(NotUnique, match="Never to be processed: plywood of unknown glue"):
            material("plywood")

    @pytest.mark.parametrize("name", ["", "  ", None, 3])
    def test_no_name_is_refused(self, name) -> None:
        with pytest.raises(ValueRefused, match="named by a text"):
            material(name)

    def test_a_denied_word_is_no_ban_and_no_leave(self) -> None:
        assert material("chlorine-free paper").hazard == "unknown"
        assert material("PVC-free vinyl").hazard == "never"


class TestCautions:
    def test_plywood_asks_for_its_glue(self) -> None:
        assert "must name the glue" in material("birch plywood").for_processing()[0]

    def test_leather_asks_for_its_tanning(self) -> None:
        assert "must state the tanning" in material("veg-tan leather").for_processing()[0]

    @pytest.mark.parametrize("name", materials.names("extraction only"))
    def test_smoke_is_extracted_outdoors(self, name: str) -> None:
        found = material(name)
        assert "extraction outdoors" in found.for_processing()[-1]
        assert found.products

    @pytest.mark.parametrize("name", materials.names("care"))
    def test_care_is_told(self, name: str) -> None:
        assert len(material(name).for_processing()) > 1


class TestProperties:
    def test_values_of_the_handbook(self) -> None:
        # Wood Handbook, ch. 4: dry wood at 300 K 1263 J/(kg K), moist at 340 K 1910
        heat = material("birch plywood").specific_heat
        assert heat.low.to("J/(kg*K)").magnitude == pytest.approx(1260)
        assert heat.high.to("J/(kg*K)").magnitude == pytest.approx(1910)
        assert heat.kind == "catalogue"
        assert material("basswood").density.typical == Q("426 kg/m^3")
        assert material("acrylic").heat_of_gasification.typical == Q("1.62 MJ/kg")

    def test_acrylic_of_no_stated_colour_has_no_absorptance_for_blue(self) -> None:
        assert material("acrylic").absorptance_450nm is None
        assert material("clear acrylic").absorptance_450nm.high < Q("0.05 1")
        assert material("black acrylic").absorptance_450nm.low > Q("0.8 1")

    def test_the_mark_estimate_is_carried(self) -> None:
        assert material("birch plywood").density.kind == "estimate"
        assert "680 kg/m³ (620 kg/m³ to 750 kg/m³)  (estimate)" in repr(material("birch plywood"))

    def test_what_is_from_memory_or_worked_out_is_an_estimate(self) -> None:
        for row in tables.read("materials").rows.values():
            doubtful = re.search(r"memory|estimate|worked out|recalled", row.source)
            assert (row.kind == "estimate") == bool(doubtful), row.name

    def test_every_row_belongs_to_a_material_and_fills_one_property(self) -> None:
        for row in tables.read("materials").rows.values():
            name, _, word = row.name.partition(": ")
            assert list(row.values) == [word.replace(" ", "_")]
            span = material(name).properties[word.replace(" ", "_")]
            assert span.source == row.source

    @pytest.mark.parametrize("name", materials.names())
    def test_ranges_lie_where_they_can(self, name: str) -> None:
        found = material(name)
        for word, span in found.properties.items():
            assert span.low.magnitude > 0 or "temperature" in word
            if word.startswith("absorptance"):
                assert span.high.magnitude < 1
        if found.density is not None:  # from felt to steel
            assert Q("70 kg/m^3") < found.density.low <= found.density.high < Q("8100 kg/m^3")
        assert units.show(Q("1 m"))


def test_groups_are_named() -> None:
    with pytest.raises(ValueRefused, match="'never', 'extraction only', 'care'"):
        materials.names("nasty")
    assert sum(len(materials.names(group)) for group in materials.GROUPS) == len(materials.names())


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('group = "never"', 'group = "bad"', "group is one of never"),
        ('name = "cork"', 'name = "cork oak"', "materials.csv has cork"),
        ('also = ["cork sheet", "Kork"]', 'also = ["MDF"]', "'MDF' is"),
        ('also = ["cork sheet", "Kork"]', 'like_it = "MDF"', "there is no key like_it"),
    ],
)
def test_a_mistake_in_the_file_is_told(tmp_path, monkeypatch, old, new, told) -> None:
    for path in tables.DATA.glob("mater*"):
        text = path.read_text(encoding="utf-8")
        if path.suffix == ".toml":
            assert old in text
            text = text.replace(old, new, 1)
        (tmp_path / path.name).write_text(text, encoding="utf-8")
    monkeypatch.setattr(tables, "DATA", tmp_path)
    with pytest.raises(TableError, match=told):
        material("cork")
