"""Terminal output as read: words, order, width."""

import dataclasses
import io

import pytest
from rich.console import Console

from ridelog.advise.result import Change
from ridelog.recording import Problem
from ridelog.report.quantities import spoken
from ridelog.report.rows import problem_words
from ridelog.report.text import advice_text, analysis_text, check_text
from tests.report import examples


def printed(renderable, width=80):
    console = Console(file=io.StringIO(), width=width)
    console.print(renderable)
    return console.file.getvalue()


def test_advice_says_first_what_to_turn():
    lines = printed(advice_text(examples.advice(), examples.car())).splitlines()
    assert lines[0] == "Saturday wagon: what to do next"
    assert "Front: turn 6 -> 9 (3 clicks stiffer)" in lines[2]


def test_advice_in_the_owners_counting():
    text = printed(advice_text(examples.advice(), examples.car(clicks_from="stiff")))
    assert "Front: turn 12 -> 9 (3 clicks stiffer)" in text
    assert "front clicks count from full stiff" in text


def test_advice_gives_prediction_reasons_and_cautions():
    text = printed(advice_text(examples.advice(), examples.car()), width=120)
    assert "expect   damping ratio 0.351 (0.332 to 0.370), target 0.35" in text
    assert "run-2.csv measured 0.31 (0.30 to 0.32), 11 % below the target of 0.35." in text
    assert "springs of 30.6 N/mm (175 lbf/in) in place of 34.0 N/mm (194 lbf/in)" in text
    assert "Never work under a car on a jack alone." in text


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("done", "Front: done, stay at 6"),
        ("repeat", "Front: turn 6 -> 9, drive once more (3 clicks stiffer)"),
        ("unknown", "Front: nothing measured yet"),
    ],
)
def test_advice_states(state, words):
    assert words in printed(advice_text(examples.advice(state=state), examples.car()))


def test_analysis_table():
    text = printed(analysis_text(examples.full_result(), examples.car()))
    row = next(line for line in text.splitlines() if line.startswith("damping ratio  "))
    assert row.split("  ")[0] == "damping ratio"
    assert "0.408" in row
    assert "0.396 to 0.420" in row
    assert "17 % above" in row


def test_analysis_tells_problems_and_notes_after_the_tables():
    text = printed(analysis_text(examples.full_result(), examples.car()), width=200)
    assert text.index("Front axle") < text.index("\nProblems") < text.index("\nNotes")
    assert (
        "- The travel sensor left front: lags the other sensors by 9.2 ms (mended for the analysis)"
        in text
    )
    pair = "- The body accelerometer left front and the body accelerometer left rear: the two are"
    assert pair in text


def test_log_without_axles_shows_no_empty_tables():
    text = printed(analysis_text(examples.body_only_result(), examples.car()))
    assert "axle" not in text.splitlines()[2]
    assert "Front axle" not in text
    assert "against target" not in text


def test_check_lists_abilities():
    text = printed(check_text(examples.check()))
    assert "ride comfort                       no    needs an accelerometer on the body" in text


@pytest.mark.parametrize("width", [60, 80, 200])
@pytest.mark.parametrize(
    "renderable",
    [
        analysis_text(examples.full_result(), examples.car()),
        advice_text(examples.advice(), examples.car()),
        check_text(examples.check()),
    ],
    ids=["analysis", "advice", "check"],
)
def test_fits_the_width_without_colour_codes(renderable, width):
    text = printed(renderable, width)
    assert max(len(line) for line in text.splitlines()) <= width
    assert "\x1b" not in text
    assert "…" not in text  # nothing cut off


def test_markup_in_names_is_shown_as_it_is():
    car = examples.car(name="[red]wagon[/red]")
    assert "[red]wagon[/red]: run-2.csv" in printed(analysis_text(examples.full_result(), car))


def front_advice(**changes):
    advice = examples.advice()
    front = dataclasses.replace(advice.axles["front"], **changes)
    return dataclasses.replace(advice, axles={**advice.axles, "front": front})


def test_a_tired_damper_comes_before_its_knob():
    advice = front_advice(state="repeat", weak_corner="fr")
    text = printed(advice_text(advice, examples.car()))
    assert "Front: see to the right front damper first (leave the knobs until then)" in text


def test_direction_where_clicks_are_not_known():
    advice = front_advice(clicks=Change(now=None, next=None), direction="stiffer")
    text = printed(advice_text(advice, examples.car()))
    assert "Front: go stiffer (count the clicks from the end of the knob and note them)" in text


def test_two_knobs_are_named_apart():
    advice = front_advice(
        clicks=Change(now=None, next=None),
        direction="stiffer",
        bump_clicks=Change(now=4, next=6),
        rebound_clicks=Change(now=9, next=9),
    )
    text = printed(advice_text(advice, examples.car()))
    assert "Front: bump: turn 4 -> 6; rebound: stay at 9 (bump 2 clicks stiffer)" in text


def test_channel_names_are_spoken_once():
    problem = Problem(code="sign", channel="body_fr", text="body_fr reads upside down", mended=True)
    assert problem_words(problem) == (
        "The body accelerometer right front reads upside down (mended for the analysis)"
    )


def test_no_second_word_of_mending():
    problem = Problem(code="gap", text="5 gaps, mended by leaving them out", mended=True)
    assert problem_words(problem) == "5 gaps, mended by leaving them out"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("fl: no travel sensor", "Left front: no travel sensor"),
        ("stops hit (fl, rr)", "Stops hit (left front, right rear)"),
        ("run-2.csv at 6", "run-2.csv at 6"),
        ("hub_rr sits still", "The hub accelerometer right rear sits still"),
        ("flat and early", "Flat and early"),
    ],
)
def test_spoken(text, words):
    assert spoken(text) == words
