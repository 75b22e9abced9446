"""The page: alone in the world, safe, small, verdict first."""

import base64
import dataclasses
from html.parser import HTMLParser

import pytest

from ridelog.report.marks import GENERATOR_MARK
from ridelog.report.page import advice_page, analysis_page, check_page, typeset
from tests.report import examples

PAGES = {
    "analysis": analysis_page(examples.full_result(), examples.car()),
    "one sensor": analysis_page(examples.body_only_result(), examples.car()),
    "nothing": analysis_page(examples.empty_result(), examples.car()),
    "advice": advice_page(examples.advice(), examples.car(clicks_from="stiff")),
    "check": check_page(examples.check(), examples.car()),
}
MOST_CHARACTERS = 1_500_000
VOID = {"meta", "img", "br", "hr", "link", "input"}


class Outline(HTMLParser):
    """Tags with their attributes, the text outside style, and whether every tag is closed."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.text, self.open = [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if not self.open or self.open[-1] != "style":
            self.text.append(data)

    def words(self):
        return " ".join(" ".join(self.text).split())


@pytest.fixture(params=PAGES, ids=str)
def page(request):
    return PAGES[request.param]


def test_needs_nothing_else(page):
    outline = Outline(page)
    addresses = [
        value
        for _, attrs in outline.tags
        for name, value in attrs.items()
        if name in ("src", "href", "srcset", "data", "action", "background")
    ]
    assert all(address.startswith("data:image/svg+xml;base64,") for address in addresses)
    assert "http" not in page.replace("http-equiv", "")
    assert "@import" not in page
    assert "url(" not in page
    tags = {tag for tag, _ in outline.tags}
    assert not tags & {"script", "link", "iframe", "object", "embed", "base", "form"}


def test_pictures_need_nothing_else_and_run_nothing(page):
    for tag, attrs in Outline(page).tags:
        if tag == "img":
            svg = base64.b64decode(attrs["src"].split(",", 1)[1]).decode("utf-8")
            assert "<script" not in svg
            assert 'href="http' not in svg
            assert "<text" in svg  # lettering stays text


def test_is_small(page):
    assert len(page) < MOST_CHARACTERS


def test_tags_are_balanced(page):
    assert Outline(page).open == []


def test_head(page):
    outline = Outline(page)
    assert page.startswith("<!DOCTYPE html>")
    assert ("html", {"lang": "en"}) in outline.tags
    names = {
        attrs.get("name"): attrs.get("content") for tag, attrs in outline.tags if tag == "meta"
    }
    assert names["viewport"] == "width=device-width, initial-scale=1"
    assert GENERATOR_MARK in page
    assert "<title>Saturday wagon: " in page


def test_every_picture_is_told_in_words(page):
    for tag, attrs in Outline(page).tags:
        if tag == "img":
            assert len(attrs["alt"]) > 30


def test_pictures_of_a_full_log():
    titles = [
        line.split("<figcaption>")[1].split("<")[0]
        for line in PAGES["analysis"].splitlines()
        if "<figcaption>" in line
    ]
    assert titles == [
        "Damper force, front",
        "Damper force, rear",
        "Travel used, front",
        "Travel used, rear",
        "Spectrum: front body acceleration",
        "Spectrum: rear body acceleration",
        "Damper speeds, front",
        "Damper speeds, rear",
    ]


def test_verdict_then_cautions_then_numbers_then_pictures():
    page = PAGES["analysis"]
    order = [
        "17 % more damping",
        "Sensor problems",
        "Before you start",
        "Front axle",
        "<img",
        "Notes",
    ]
    spots = [page.replace("\N{NO-BREAK SPACE}", " ").index(words) for words in order]
    assert spots == sorted(spots)


def test_advice_in_large_type_first():
    words = Outline(PAGES["advice"]).words()
    start = words.index("What to turn next Front turn 12")
    assert "Front turn 12 \N{RIGHTWARDS ARROW} 9 3 clicks stiffer expect" in words[start:]
    assert words.index("turn 12") < words.index("Before you start") < words.index("Runs so far")


def test_stop_contacts_bring_their_caution():
    assert "The car hits its bump stops" in PAGES["analysis"]
    assert "The car hits its bump stops" not in PAGES["one sensor"]
    assert "licensed workshop" in PAGES["one sensor"]
    assert "never watch a screen while driving" in PAGES["check"]


def test_text_from_files_cannot_become_markup():
    evil = '<script>alert("x")</script>'
    full = examples.full_result(file=evil)
    problem = dataclasses.replace(full.problems[0], text=evil)
    result = dataclasses.replace(full, notes=(evil,), problems=(problem,))
    curve = dataclasses.replace(full.curves.spectra[0], label=evil)
    result = dataclasses.replace(result, curves=dataclasses.replace(full.curves, spectra=(curve,)))
    advice = examples.advice()
    run = dataclasses.replace(advice.runs[0], file=evil, note=evil)
    advice = dataclasses.replace(advice, runs=(run,), next_run=evil, cautions=(evil,))
    car = examples.car(name=evil)
    for page in (analysis_page(result, car), advice_page(advice, car)):
        outline = Outline(page)
        assert "script" not in {tag for tag, _ in outline.tags}
        assert outline.words().count(evil) >= 3  # shown, as text
        for tag, attrs in outline.tags:
            if tag == "img":
                svg = base64.b64decode(attrs["src"].split(",", 1)[1]).decode("utf-8")
                assert "<script" not in svg


def test_a_quote_cannot_leave_an_attribute():
    full = examples.full_result()
    curve = dataclasses.replace(full.curves.spectra[0], label='" onerror="alert(1)')
    result = dataclasses.replace(full, curves=dataclasses.replace(full.curves, spectra=(curve,)))
    for tag, attrs in Outline(analysis_page(result, examples.car())).tags:
        if tag == "img":
            assert attrs.keys() == {"alt", "src"}


def test_a_dollar_in_a_name_is_no_formula():
    advice = examples.advice()
    run = dataclasses.replace(advice.runs[0], file="run$_^$.csv")
    page = advice_page(dataclasses.replace(advice, runs=(run,)), examples.car())
    pictures = [attrs["src"] for tag, attrs in Outline(page).tags if tag == "img"]
    drawn = "".join(base64.b64decode(src.split(",", 1)[1]).decode("utf-8") for src in pictures)
    assert "run$_^$" in drawn


def test_typeset():
    assert typeset("turn 6 -> 9") == "turn 6 \N{RIGHTWARDS ARROW} 9"
    assert typeset("310 +-12") == "310 \N{PLUS-MINUS SIGN}12"
    assert typeset("at 1.3 Hz in") == "at 1.3\N{NO-BREAK SPACE}Hz in"
    assert typeset("0.5 m/s2") == "0.5 m/s\N{SUPERSCRIPT TWO}"
    assert typeset("6 sensors") == "6 sensors"


def test_same_result_makes_the_same_page():
    again = analysis_page(examples.full_result(), examples.car())
    assert again == PAGES["analysis"]
