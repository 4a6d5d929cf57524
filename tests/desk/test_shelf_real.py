"""A real making through the shelf: its picture, and a change that works only what depends on it."""

from __future__ import annotations

import datetime as dt
import os
from pathlib import Path

import pytest

from ringwright.desk import shelf
from ringwright.desk.demo import write_demo
from ringwright.desk.keeping import cache_folder
from ringwright.desk.planning import plan
from ringwright.desk.shelf import Stage, open_shelf
from ringwright.terms.order import STEPS


@pytest.mark.slow
def test_the_demo_is_made_on_the_shelf_and_a_change_of_the_deposit_works_only_the_price(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Nothing is kept from before; what was compiled before may be used.
    monkeypatch.setenv("NUMBA_CACHE_DIR", os.environ.get("NUMBA_CACHE_DIR", str(cache_folder() / "compiled")))
    monkeypatch.setenv("RINGWRIGHT_CACHE", str(tmp_path / "cache"))
    today = dt.date.today()
    write_demo(tmp_path / "shop", today)
    with open_shelf(tmp_path / "shop") as made:
        shelf.take_up(made)
        status = shelf.wait_for_making(made, shelf.start_making(made, "wide-band"), 600)
        assert (status.stage, status.fault, status.mistakes) == (Stage.DONE, "", ())
        worked = [step.name for step in STEPS if step.name in status.worked]
        assert len(worked) > 8 and "price" in worked and status.kept == ()
        card = next(one for one in shelf.cards(made) if one.key == "wide-band")
        assert card.stale == "" and card.next_step and card.dossier is not None and card.dossier.picture is not None
        assert shelf.picture(made, card.dossier.picture).startswith(b"\x89PNG")

        text = shelf.commission(made, "wide-band").text
        assert "deposit" not in text
        changed = (
            text.replace("[price]", '[price]\ndeposit = "35 %"')
            if "[price]" in text
            else text + '\n[price]\ndeposit = "35 %"\n'
        )
        shelf.save_commission(made, "wide-band", changed, based_on=1, by="page")
        status = shelf.wait_for_making(made, shelf.start_making(made, "wide-band"), 600)
        assert (status.stage, status.worked) == (Stage.DONE, ("price",))
        told = shelf.difference(made, "wide-band", 1, 2)
        assert [one.where for one in told.fields] == ["price.deposit"]
        assert {(one.step, one.name) for one in told.figures} == {("price", "deposit"), ("price", "balance")}
        shown = shelf.dossier_data(made, "wide-band")

    # The command line makes the same of the same files, and the shelf knows it again.
    order = tmp_path / "shop" / "wide-band.commission.toml"
    done = plan(order, now=dt.datetime.now(dt.UTC))
    assert set(done.files) == {*shown["files"], "dossier.json"}
    with open_shelf(tmp_path / "shop") as made:
        card = next(one for one in shelf.cards(made) if one.key == "wide-band")
        assert card.stale == "" and card.dossier is not None and card.dossier.picture is not None
        assert shelf.dossier_data(made, "wide-band")["steps"] == shown["steps"]
