"""The shop's own thermocouple log: what a file may look like, and what each mistake is told as."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from ringwright import cli
from ringwright.desk import planning, shelf
from ringwright.desk._makings import Makings, Stage
from ringwright.desk._thermocouple import logs_in
from ringwright.desk.planning import Ordered, plan, read_order
from ringwright.desk.shelf import open_shelf
from ringwright.terms.mistake import BadInput
from ringwright.terms.progress import Keep, Progress
from tests.desk.texts import COMMISSION, WORKSHOP
from tests.papers.makings import MAKING

HEAD = "time,temperature,x,y,z\n"
NOW = dt.datetime(2027, 1, 2, tzinfo=dt.UTC)


def mistakes(text: str) -> list[str]:
    with pytest.raises(BadInput) as fault:
        logs_in(text, "log.csv")
    return [str(one) for one in fault.value.mistakes]


def test_readings_are_put_to_their_places() -> None:
    text = "# the ring for the window\n" + HEAD + "0,951,0,-9.4,0\n0,950,0,9,0\n\n1.5,930,0,-9.4,0\n2,925,0,9,0\n"
    one, other = logs_in(text, "log.csv")
    assert one.at_mm == (0.0, -9.4, 0.0)
    assert [(r.time_s, r.reads_C) for r in one.readings] == [(0.0, 951.0), (1.5, 930.0)]
    assert [(r.time_s, r.reads_C) for r in other.readings] == [(0.0, 950.0), (2.0, 925.0)]


def test_other_units_columns_and_signs_of_parting() -> None:
    text = "x [in];y [in];z [in];Temperature (°F);time [min]\n0;-0,37;0;1742;0\n0;-0,37;0;1650,2;0,05\n"
    (one,) = logs_in(text, "log.csv")
    assert one.at_mm == pytest.approx((0.0, -9.398, 0.0))
    assert one.readings[0].reads_C == pytest.approx(950.0)
    assert one.readings[1].time_s == pytest.approx(3.0)
    assert one.readings[1].reads_C == pytest.approx(899.0)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "log.csv: the log is empty; a first line that names its columns"),
        (HEAD, "log.csv: there is no reading below the names"),
        ("time,temp,x,y,z\n0,951,0,0,0\n", "log.csv:1: 'temp' is not a column of a log; time, temperature"),
        ("time,temperature\n0,951\n", "log.csv:1: there is no column x, y, z"),
        ("time,time,temperature,x,y,z\n", "log.csv:1: there are two columns called time"),
        ("time [mm],temperature,x,y,z\n", "log.csv:1: column time: '1 mm' is not in s"),
        (HEAD + "0,951,0,0\n", "log.csv:2: 4 cells under 5 columns; 5 cells"),
        (HEAD + "0,951,0,0,0\n1,hot,0,0,0\n", "log.csv:3: 'hot' is not a number (temperature); temperature in °C"),
        (HEAD + "0,9e9,0,0,0\n", "log.csv:2: 9e+09 °C is no temperature of a casting"),
        (HEAD + "-1,951,0,0,0\n", "log.csv:2: -1 s is before the pour"),
        (HEAD + "1,951,0,0,0\n1,940,0,0,0\n", "log.csv:3: 1 s does not follow 1 s of the same place; times that grow"),
        (HEAD + "1,951,0,0,0\n", "log.csv: there is one reading at (0, 0, 0) mm; two or more"),
    ],
)
def test_each_mistake_is_told_with_its_line_and_what_is_right(text: str, says: str) -> None:
    (told,) = mistakes(text)
    assert told.startswith(says)


def test_all_mistakes_are_told_at_once_up_to_a_number() -> None:
    told = mistakes(HEAD + "0,951,0,0,0\n" + "x,1,1,1,1\n" * 30)
    assert len(told) == 21
    assert told[0].startswith("log.csv:3: 'x' is not a number (time)")
    assert "and 10 more mistakes" in told[-1]


@pytest.fixture
def order(tmp_path: Path) -> Path:
    path = tmp_path / "ring.commission.toml"
    path.write_text(COMMISSION + '\n[thermocouple]\nfile = "logs/pour.csv"\n', "utf-8")
    (tmp_path / "workshop.toml").write_text(WORKSHOP, "utf-8")
    (tmp_path / "logs").mkdir()
    return path


def test_a_log_is_read_beside_the_commission(order: Path) -> None:
    (order.parent / "logs" / "pour.csv").write_text(HEAD + "0,951,0,-9.4,0\n1,900,0,-9.4,0\n", "utf-8")
    (log,) = read_order(order).logs
    assert len(log.readings) == 2


def test_a_log_that_is_not_there_is_told_at_the_commissions_line(order: Path) -> None:
    with pytest.raises(BadInput) as fault:
        read_order(order)
    (told,) = fault.value.mistakes
    line = order.read_text("utf-8").splitlines().index("[thermocouple]") + 2
    assert str(told).startswith(f"ring.commission.toml:{line}: thermocouple.file: there is no file")


def test_mistakes_of_the_log_are_told_with_those_of_the_workshop(order: Path) -> None:
    (order.parent / "logs" / "pour.csv").write_text(HEAD + "0,hot,0,0,0\n", "utf-8")
    (order.parent / "workshop.toml").write_text(WORKSHOP.replace('"45.00"', '"-45.00"'), "utf-8")
    with pytest.raises(BadInput) as fault:
        read_order(order)
    told = sorted(str(one) for one in fault.value.mistakes)
    assert told[0].startswith("pour.csv:2: 'hot' is not a number")
    assert told[1].startswith("workshop.toml:4: shop.hour_rate")


def test_plan_thorough_asks_for_the_whole_search(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (order.parent / "logs" / "pour.csv").write_text(HEAD + "0,951,0,-9.4,0\n1,900,0,-9.4,0\n", "utf-8")
    seen: list[Ordered] = []

    def given(ordered: Ordered, facts: Any, today: dt.date, keep: Keep, progress: Progress, aside: Any) -> Any:
        seen.append(ordered)
        return MAKING

    monkeypatch.setattr(planning, "_work", given)
    monkeypatch.setattr(cli, "_stop_on_terminate", lambda: None)
    monkeypatch.setattr(cli, "_now", lambda: NOW)
    plan(order, now=NOW)
    assert cli.run(["plan", str(order), "--thorough", "--json"]) == cli.DONE
    assert [one.thorough for one in seen] == [False, True]
    assert all(len(one.logs) == 1 for one in seen)


def test_the_shelf_hands_the_log_to_the_making(order: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The pages work from the store: a log that was taken up from the folder is kept there, one never there is told."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))
    (order.parent / "logs" / "pour.csv").write_text(HEAD + "0,951,0,-9.4,0\n1,900,0,-9.4,0\n", "utf-8")
    with open_shelf(order.parent) as made:
        shelf.take_up(made)
        made._makings = Makings("tests.desk.tasks:make_given")
        status = shelf.wait_for_making(made, shelf.start_making(made, "ring"), 60)
        assert (status.stage, status.fault, status.mistakes) == (Stage.DONE, "", ())
        (order.parent / "logs" / "pour.csv").unlink()
        status = shelf.wait_for_making(made, shelf.start_making(made, "ring"), 60)
        assert status.stage is Stage.DONE, "it is kept with the commission"
        order.write_text(order.read_text("utf-8").replace("pour.csv", "other.csv"), "utf-8")
        shelf.take_up(made)
        status = shelf.wait_for_making(made, shelf.start_making(made, "ring"), 60)
        assert status.stage is Stage.REFUSED
        assert [str(one) for one in status.mistakes] == [
            "thermocouple.file: 'logs/other.csv' is not in the workshop's folder; put the log beside the commission"
        ]


def test_a_log_outside_the_folder_is_never_read(order: Path) -> None:
    secret = order.parent.parent / "secret.csv"
    secret.write_text(HEAD + "0,951,0,-9.4,0\n1,900,0,-9.4,0\n", "utf-8")
    order.write_text(order.read_text("utf-8").replace("logs/pour.csv", "../secret.csv"), "utf-8")
    with open_shelf(order.parent) as made:
        shelf.take_up(made)
        status = shelf.wait_for_making(made, shelf.start_making(made, "ring"), 60)
    assert status.stage is Stage.REFUSED
    assert "is not in the workshop's folder" in str(status.mistakes[0])
