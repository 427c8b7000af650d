"""`headlife replace` as a person runs it, and its figures."""

from __future__ import annotations

import json
import re

import numpy as np
import pytest
from tests.commands.test_cli import headlife
from tests.show.conftest import DEMO

import headlife as hl
from headlife.decisions.policy.past_rating import kinds
from headlife.show.figures import replacement, style
from headlife.show.figures.policies import draw_policies
from headlife.show.words.cautions import CAUTIONS

FILES = (DEMO / "removals.csv", "--shop", DEMO / "shop.toml")


@pytest.fixture(scope="module")
def ready():
    shop = hl.read_shop(DEMO / "shop.toml")
    return kinds(hl.quarterly_review(hl.read_records(DEMO / "removals.csv", shop), shop), shop)


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    page = tmp_path_factory.mktemp("replace") / "page.html"
    return headlife("replace", *FILES, "--age", 1500, "--out", page), page


def test_prints_advice_policies_learning_and_the_build_check(done, ready):
    run, _ = done
    assert (run.returncode, run.stderr) == (0, "")
    told = " ".join(run.stdout.split())
    for kind in ready:
        assert kind.name in told
    for part in ("at 1,500 h", "run to failure", "What would we learn", "96-hour build", "Otter"):
        assert part in told
    assert all(caution in told for caution in CAUTIONS)
    assert "quality-critical" in told and "\N{REPLACEMENT CHARACTER}" not in run.stdout


def test_page_holds_the_same_as_static_curves(done):
    _, page = done
    text = page.read_text()
    assert text.rstrip().endswith("</html>")
    assert text.count('<figure class="panel') == 9 and text.count('alt="') >= 9
    assert all(caution.split(".")[0] in text for caution in CAUTIONS)
    # Two scripts: the page's own, named by its hash, and its data, which a browser does not run.
    assert re.findall(r"<script[^>]*>", text) == [
        '<script type="application/json" id="what-if-data">',
        "<script>",
    ]
    for leak in ("IntSlider", "http://", "https://", "VBox("):
        assert leak not in re.sub(r"data:[^\"']*", "", text).replace("http://www.w3.org", "")


def test_json_is_for_programs():
    run = headlife("replace", *FILES, "--json", "--build", 48)
    assert (run.returncode, run.stderr) == (0, "")
    answers = json.loads(run.stdout)
    assert answers["build_hours"] == 48 and len(answers["build_check"]) > 10
    for one in answers["kinds"]:
        if one["quality_critical"]:
            assert one["advised_age"] <= one["rated_hours"]
        last = one["policies"][-1]
        assert last["policy"].startswith("run to failure") and last["swap_age"] is None


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--age", 0), "swap age must be above zero"),
        (("--age", "nan"), "finite"),
        (("--service", 95), "0.95"),
        (("--checks", -1), "manual checks cannot be below zero"),
        (("--build", 0), "length of a build must be above zero"),
        (("--scrapped-build", -5), "cannot be below zero"),
    ],
)
def test_a_mistake_ends_with_a_sentence_and_writes_nothing(tmp_path, arguments, says):
    page = tmp_path / "page.html"
    run = headlife("replace", *FILES, *arguments, "--out", page)
    assert run.returncode == 2 and run.stdout == ""
    assert says in run.stderr and run.stderr.count("\n") == 1
    assert not page.exists()


def test_missing_costs_are_named(tmp_path):
    text = (DEMO / "shop.toml").read_text()
    shop = tmp_path / "shop.toml"
    shop.write_text(re.sub(r"(?m)^(labour_per_hour|price) .*\n", "", text))
    run = headlife("replace", DEMO / "removals.csv", "--shop", shop)
    assert run.returncode == 2 and "[costs] labour_per_hour" in run.stderr
    assert "price" in run.stderr and "Traceback" not in run.stderr


def test_figures_draw_what_they_were_given(ready):
    from matplotlib.figure import Figure

    kind = next(k for k in ready if not k.quality_critical)
    answer = kind.answer(kind.choices(age_hours=1.2 * kind.oldest_seen))
    with style.headlife_style():
        cost, policies, events = Figure().subplots(1, 3)
        replacement.draw_cost_curve(cost, answer, kind.rated_hours)
        draw_policies(policies, answer)
        replacement.draw_events(events, answer, kind.rated_hours)
    lines = [np.asarray(line.get_xydata()) for line in cost.lines]
    curve = answer.curve[["age", "expected"]].to_numpy()
    seen = curve[curve[:, 0] <= kind.oldest_seen]
    # Solid where heads have been, another line beyond; together the whole curve.
    assert any(line.shape == seen.shape and np.allclose(line, seen) for line in lines)
    assert any(np.allclose(line[-1], curve[-1]) and len(line) < len(curve) for line in lines)
    assert any(np.allclose(line[:, 0], kind.rated_hours) for line in lines)
    words = [text.get_text() for text in cost.get_legend().get_texts()]
    assert any("no head seen" in text for text in words)
    dots = [line.get_xdata() for line in policies.lines if len(line.get_xdata()) > 2]
    assert np.allclose(dots[0], answer.table["cost_per_hour"])
    assert "[credits/h]" in cost.get_ylabel() and "[h]" in cost.get_xlabel()
    assert "quarter" in events.get_ylabel()


def test_figures_come_as_files_and_only_into_an_empty_folder(tmp_path):
    folder = tmp_path / "slides"
    run = headlife("replace", *FILES, "--figures", folder)
    assert (run.returncode, run.stderr) == (0, "")
    kinds = [path.suffix for path in folder.iterdir()]
    assert kinds.count(".svg") == kinds.count(".png") == kinds.count(".csv") == 9
    again = headlife("replace", *FILES, "--figures", folder)
    assert again.returncode == 2 and "holds files already" in again.stderr
    nowhere = headlife("replace", *FILES, "--figures", tmp_path / "no" / "slides")
    assert nowhere.returncode == 2 and "does not exist" in nowhere.stderr
