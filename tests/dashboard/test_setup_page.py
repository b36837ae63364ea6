"""Set-up through the real app on a real store: parts, forms, refusals at the field, the papers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from dash import Dash

from dashboard import create_app, text
from dashboard.pages.setup.fields import LONG_LIST, NOT_SAID, zones_with
from dashboard.pages.setup.saying import errors_of
from dashboard.text import setup as setup_text
from dashboard.view import SetupView, address, key_of, key_text, read_view
from qc.config import SETTINGS
from qc.desk.keeping import RecordWritten, keep_record
from qc.desk.lists import LISTS, list_kind
from qc.desk.shop import Shop, open_shop, reread
from qc.errors import FormError
from qc.store.checking import check_store
from tests.dashboard.asking import callback, links, plain, props_of, words

NOW = 1_780_000_000_000_000


@pytest.fixture
def mine(tmp_path: Path) -> Iterator[Shop]:
    made = open_shop(str(tmp_path / "shop.db"), create=True)
    for kind, texts in (
        ("fabrics", {"fabric": "tee", "cotton_pct": "100"}), ("transfers", {"transfer": "film"}),
        ("presses", {"press": "P1", "temperature_tolerance_c": "5"}),
        ("recipes", {"fabric": "tee", "transfer": "film", "temperature_c": "150"}),
        ("jobs", {"job": "J/1", "fabric": "tee", "transfer": "film"}),
    ):
        keep_record(made, RecordWritten(kind=kind, texts=texts), by="Ann", at_us=NOW)
    yield made
    made.store.close()


@pytest.fixture
def live(mine: Shop) -> Dash:
    return create_app(mine.store.location, clock_us=lambda: NOW + 60_000_000)


def shown(app: Dash, **view: str) -> Any:
    return callback(app, "setup-body.children", address__search=address(SetupView(**view)))[
        "setup-body"]["children"]


def field_ids(tree: Any, kind: str = "setup-field") -> list[str]:
    return [props["id"]["name"] for props in props_of(tree)
            if isinstance(props.get("id"), dict) and props["id"].get("type") == kind]


def field(tree: Any, name: str) -> dict[str, Any]:
    return next(props for props in props_of(tree) if isinstance(props.get("id"), dict)
                and props["id"].get("name") == name)


def press_button(app: Dash, button: dict[str, str], kind: str, texts: dict[str, Any], *,
                 by: str = "Rui", search: str = "", of: int | None = None) -> dict[str, Any]:
    """Press a button of the forms as a browser does, with what stands in their fields."""
    outputs = "setup-field" if kind == "setup-field" else kind
    spec = next(c for name, c in app.callback_map.items()
                if f'"type":"{outputs}"' in name and ".error" in name)
    ids = [{"name": name, "type": kind} for name in texts]

    def value(part: dict[str, Any]) -> Any:
        if part["id"] == "your-name":
            return {"id": "your-name", "property": "value", "value": by}
        if part["id"] == "address":
            return {"id": "address", "property": "search", "value": search}
        if part["id"] == "setup-of":
            return {"id": "setup-of", "property": "data", "value": of}
        prop = part["property"]
        return [{"id": one, "property": prop, "value": one if prop == "id" else texts[one["name"]]}
                for one in ids]

    def output(one: Any) -> Any:
        if "{" in str(one.component_id) or isinstance(one.component_id, dict):
            return [{"id": given, "property": one.component_property} for given in ids]
        return {"id": one.component_id, "property": one.component_property}

    name = next(name for name, known in app.callback_map.items() if known is spec)
    body = {
        "output": name, "outputs": [output(one) for one in spec["output"]],
        "inputs": [[{"id": button, "property": "n_clicks", "value": 1}]],
        "state": [value(part) for part in spec["state"]],
        "changedPropIds": [f"{_text(button)}.n_clicks"],
    }
    answer = app.server.test_client().post("/_dash-update-component", json=body)
    assert answer.status_code == 200, answer.get_data(as_text=True)[-1500:]
    found: dict[str, Any] = answer.get_json()["response"]
    return found


def _text(button: dict[str, str]) -> str:
    return "{" + ",".join(f'"{key}":"{button[key]}"' for key in sorted(button)) + "}"


def errors(answer: dict[str, Any]) -> dict[str, str]:
    found = {re.search(r'"name":"([^"]+)"', at)[1]: props.get("error")  # type: ignore[index]
             for at, props in answer.items() if at.startswith("{")}
    return {name: words for name, words in found.items() if words}


def keep(app: Dash, part: str, texts: dict[str, Any], **more: Any) -> dict[str, Any]:
    view = more.pop("view", SetupView(part=part, do="add"))
    return press_button(app, {"do": "record", "type": "setup-do"}, "setup-field", texts,
                        search=address(view), **more)


def empty(part: str) -> dict[str, Any]:
    return {one.name: "" for one in list_kind(part).fields if one.name != "version"}


def was_said(answer: Any, where: str = "setup-said") -> str:
    """What was said in answer to a button, or is to be said with the page drawn anew."""
    said = answer[where]["children"] if where in answer else answer["setup-news"]["data"]["said"]
    return said if isinstance(said, str) else words(said).strip()


def test_every_part_has_its_address_and_a_card_that_leads_there(live: Dash) -> None:
    tree = shown(live)
    assert links(tree) == [f"/setup?part={part}" for part in setup_text.PARTS]
    said = words(tree)
    assert "1 on the list" in said and "none yet" in said and "26 on the list" in said
    for part, name in setup_text.PARTS.items():
        told = shown(live, part=part)
        assert name in words(told) and text.ERROR_TITLE not in words(told), part
        assert set(links(told)) >= {f"/setup?part={one}" for one in setup_text.PARTS}


def test_an_unknown_part_or_record_opens_the_page_all_the_same(live: Dash) -> None:
    assert read_view(SetupView, "?part=secrets&do=drop") == SetupView()
    assert text.NO_SUCH_FLAG_TITLE in words(shown(live, part="presses", item="P9"))
    assert text.NO_SUCH_FLAG_TITLE in words(shown(live, part="recipes", item="tee"))


@pytest.mark.parametrize("key", [("P1",), ("tee", "film"), ("a/b", "c&d?e=%"), ("é ü",)])
def test_any_code_comes_back_from_its_address(key: tuple[str, ...]) -> None:
    view = read_view(SetupView, address(SetupView(part="recipes", item=key_text(key))))
    assert key_of(view.item) == key


@pytest.mark.parametrize("part", LISTS)
def test_forms_are_made_of_the_fields_of_the_records(live: Dash, part: str) -> None:
    tree = shown(live, part=part, do="add")
    wanted = [one for one in list_kind(part).fields if one.name != "version"]
    assert sorted(field_ids(tree)) == sorted(one.name for one in wanted)
    for one in wanted:
        props = field(tree, one.name)
        assert one.name in setup_text.LABELS, one.name
        assert props["label"].startswith(setup_text.field_label(one.name))
        assert bool(props.get("withAsterisk")) == one.required
        if one.units:
            assert props["label"].endswith(one.units[0].symbol)
        if one.choices:
            none = [NOT_SAID] if len(one.choices) <= LONG_LIST else []  # a long one is searched
            assert [choice["value"] for choice in props["data"]] == [*none, *one.choices]
        if one.listed:
            codes = [choice["value"] for choice in props["data"]]
            assert codes == [NOT_SAID] * (not one.required) + [
                {"fabrics": "tee", "transfers": "film"}[one.listed]]
        if one.high is not None and not one.is_text:
            assert f"to {one.high:.15g}" in props["description"], one.name


def test_every_setting_stands_in_one_group_with_its_words(live: Dash) -> None:
    grouped = [name for names in setup_text.SETTING_GROUPS.values() for name in names]
    assert sorted([*grouped, *setup_text.BUDGET_SETTINGS]) == sorted(one.name for one in SETTINGS)
    assert set(setup_text.SETTING_LABELS) == {one.name for one in SETTINGS}
    tree = [shown(live, part="settings"), shown(live, part="budget")]
    assert sorted(field_ids(tree, "setup-setting")) == sorted(one.name for one in SETTINGS)
    for one in SETTINGS:
        assert one.help.rstrip(".") in field(tree, one.name)["description"]


def test_a_fabric_is_added_and_opens_with_its_first_version(live: Dash, mine: Shop) -> None:
    answer = keep(live, "fabrics", empty("fabrics") | {"fabric": "rib/2", "cotton_pct": "95,5",
                                                       "surface": "ribbed"})
    assert errors(answer) == {}
    to = answer["address"]["search"]
    assert to == "?part=fabrics&item=rib%252F2"
    assert was_said(answer) == "Fabric rib/2 is kept."
    told = words(callback(live, "setup-body.children", address__search=to)[
        "setup-body"]["children"])
    assert "Fabric rib/2" in told and "Version 1" in told and "Rui," in told
    assert "95.5" in told and check_store(mine.store) == []


def test_a_recipe_upside_down_is_refused_at_its_field(live: Dash, mine: Shop) -> None:
    before = mine.store.change_number()
    wrong = empty("recipes") | {"temperature_low_c": "165", "temperature_high_c": "155",
                                "dwell_s": "long"}
    answer = keep(live, "recipes", wrong, of=1,
                  view=SetupView(part="recipes", item=key_text(("tee", "film"))))
    assert errors(answer) == {
        "temperature_high_c": "Highest temperature is below lowest temperature.",
        "dwell_s": "Time is 'long', not a number."}
    assert was_said(answer) == f"▲ {setup_text.NOT_KEPT}"
    assert mine.store.change_number() == before


def test_a_changed_recipe_is_its_next_version(live: Dash) -> None:
    view = SetupView(part="recipes", item=key_text(("tee", "film")))
    answer = keep(live, "recipes", empty("recipes") | {"temperature_c": "155"}, of=1, view=view)
    assert was_said(answer) == (
        "Recipe tee with film is kept as version 2; the one before stays.")
    told = words(shown(live, part="recipes", item=view.item))
    assert "Temperature: 150\u202f°C → 155\u202f°C" in told
    assert told.index("Version 2") < told.index("Version 1")
    assert setup_text.VERSIONED_RECIPE in told and "Keep as version 3" in told


def test_a_past_version_can_be_written_into_the_form_again(live: Dash) -> None:
    view = SetupView(part="presses", item="P1")
    keep(live, "presses", empty("presses") | {"temperature_tolerance_c": "3"}, of=1, view=view)
    tree = shown(live, part="presses", item="P1")
    assert field(tree, "temperature_tolerance_c")["value"] == "3"
    back = "/setup?part=presses&item=P1&past=1"
    assert back in links(tree) and setup_text.WRITE_AGAIN.format(n="2") not in words(tree)
    old = shown(live, part="presses", item="P1", past="1")
    assert field(old, "temperature_tolerance_c")["value"] == "5"
    assert setup_text.FILLED_FROM.format(n="1") in words(old)
    texts = {name: field(old, name)["value"] for name in field_ids(old)}
    answer = keep(live, "presses", texts, of=2, view=SetupView(part="presses", item="P1", past="1"))
    assert "version 3" in was_said(answer)
    assert answer["address"]["search"] == "?part=presses&item=P1"


def test_nobody_named_nothing_kept(live: Dash, mine: Shop) -> None:
    before = mine.store.change_number()
    answer = keep(live, "fabrics", empty("fabrics") | {"fabric": "rib"}, by=" ")
    assert "Nobody is named" in was_said(answer)
    settings = press_button(live, {"group": "shop_name", "type": "setup-keep"}, "setup-setting",
                            {"shop_name": "Q"}, by="")
    assert "Nobody is named" in was_said(settings)
    assert mine.store.change_number() == before


def test_two_people_at_one_press(live: Dash) -> None:
    view = SetupView(part="presses", item="P1")
    texts = empty("presses") | {"press": "P1", "temperature_tolerance_c": "4"}
    assert "version 2" in was_said(keep(live, "presses", texts, of=1, view=view))
    late = keep(live, "presses", texts | {"temperature_tolerance_c": "3"}, of=1, view=view,
                by="Zoe")
    assert "Rui has changed it since" in was_said(late)


def test_settings_of_a_group_are_kept_and_their_history_shown(live: Dash, mine: Shop) -> None:
    texts = {"shop_name": "Quillmere", "timezone": "Europe/Lisbon", "shift_starts": "06:00",
             "dial_tolerance": "none"}
    group = {"group": "shop_name timezone shift_starts", "type": "setup-keep"}
    answer = press_button(live, group, "setup-setting", texts, search="?part=settings")
    assert errors(answer) == {} and answer["shop-name"]["children"] == "Quillmere"
    assert was_said(answer) == (
        "Kept: Time zone: Europe/Lisbon; Name of the shop: Quillmere; Shifts begin at: 06:00.")
    assert answer["as-of"]["children"].startswith("as of ")
    assert reread(mine).settings["dial_tolerance"] == "0.5"  # of another group: not touched
    told = words(shown(live, part="settings"))
    assert setup_text.AS_IT_CAME.format(value="06:00,14:00,22:00") in told and "Rui" in told
    assert setup_text.AS_IT_CAME.format(value=setup_text.NOTHING_SAID) in told
    wrong = press_button(live, group, "setup-setting", texts | {"shift_starts": "6 o'clock"},
                         search="?part=settings")
    assert "write clock times as" in errors(wrong)["shift_starts"]


def test_a_kind_of_ones_own_stands_before_the_trades(live: Dash) -> None:
    button = {"do": "kind", "type": "setup-do"}
    answer = press_button(live, button, "setup-field", {"kind": "Glue spots"},
                          search="?part=kinds")
    assert was_said(answer) == "Glue spots is on the list now."
    told = words(shown(live, part="kinds"))
    assert told.index("Glue spots") < told.index("Lifted edge")
    again = press_button(live, button, "setup-field", {"kind": "glue spots"}, search="?part=kinds")
    assert "on the list already" in errors(again)["kind"]


def test_people_are_shown_with_what_they_did(live: Dash) -> None:
    told = words(shown(live, part="people"))
    assert "Ann" in told and "–" in told and "no log-in" in told


def test_what_the_budget_costs_is_said_beside_other_choices(app: Dash) -> None:
    tree = callback(app, "setup-cost.children", **{"setup-cost__id": "x"})["setup-cost"]["children"]
    said = words(tree)
    assert "0.25 false flags a week" in said and "one in 4 weeks" in said
    assert setup_text.COST_CHOSEN in said and "20 weeks" in said and setup_text.COST_STREAMS in said
    assert "Take" not in said  # a page that looks back decides nothing


def test_a_choice_is_written_into_the_form(live: Dash) -> None:
    spec = next(name for name in live.callback_map if '"name":"false_flags_per_week"' in name)
    button = {"type": "setup-take", "value": "0.5"}
    body = {
        "output": spec, "outputs": [
            {"id": {"name": "false_flags_per_week", "type": "setup-setting"}, "property": "value"},
            {"id": "setup-said", "property": "children"}],
        "inputs": [[{"id": button, "property": "n_clicks", "value": 1}]], "state": [],
        "changedPropIds": [f"{_text(button)}.n_clicks"],
    }
    answer = live.server.test_client().post("/_dash-update-component", json=body).get_json()
    assert '"0.5"' in str(answer).replace("'", '"')


def test_a_page_that_looks_back_changes_nothing(app: Dash) -> None:
    for view in ({"part": "fabrics"}, {"part": "fabrics", "item": "rib-fine"},
                 {"part": "kinds"}, {"part": "settings"}):
        tree = shown(app, **view)
        assert setup_text.LOOKS_BACK in words(tree)
        assert not [one for one in props_of(tree) if isinstance(one.get("id"), dict)
                    and one["id"].get("type") == "setup-do"]
        assert setup_text.add_words("fabrics") not in words(tree)


def test_putting_away_is_told_only_of_what_can_be_put_away(live: Dash, mine: Shop) -> None:
    for kind, texts in (("jobs", {"job": "K1"}), ("instruments", {"instrument": "T1"})):
        keep_record(mine, RecordWritten(kind=kind, texts=texts), by="Ann", at_us=NOW)
        told = words(shown(live, part=kind, item=next(iter(texts.values()))))
        assert setup_text.VERSIONED in told and setup_text.VERSIONED_USE not in told, kind
    told = words(shown(live, part="presses", item="P1"))
    assert setup_text.VERSIONED_USE in told and setup_text.RETIRE in told
    assert "Add an instrument" in words(shown(live, part="instruments"))


def test_a_list_is_cut_down_to_what_is_looked_for(live: Dash, mine: Shop) -> None:
    for at in range(120):
        keep_record(mine, RecordWritten(kind="jobs", texts={"job": f"K{at}"}), by="Ann", at_us=NOW)
    told = words(shown(live, part="jobs"))
    assert setup_text.NEWEST_SHOWN.format(shown="100") in told
    assert told.index("K119") < told.index("K118")  # the newest first
    found = words(shown(live, part="jobs", find="k11"))
    assert "K119" in found and "K12 " not in found
    assert setup_text.NOT_FOUND in words(shown(live, part="jobs", find="zebra"))


def test_a_recipe_needs_its_fabric_and_transfer_first(empty_live: Dash) -> None:
    tree = shown(empty_live, part="recipes", do="add")
    assert "add a fabric and a transfer first" in words(tree)
    assert {"/setup?part=fabrics&do=add", "/setup?part=transfers&do=add"} <= set(links(tree))


@pytest.fixture
def empty_live(tmp_path: Path) -> Dash:
    place = str(tmp_path / "empty.db")
    open_shop(place, create=True).store.close()
    return create_app(place, clock_us=lambda: NOW)


def guide(app: Dash, path: str, search: str = "") -> str:
    shown_there = callback(app, "first-run.children", **{
        "first-run__id": "first-run", "address__search": search, "address__pathname": path})
    return words(shown_there.get("first-run", {}).get("children"))


def test_an_empty_shop_is_led_from_every_page(empty_live: Dash, app: Dash) -> None:
    for path in ("/", "/setup"):
        assert setup_text.GUIDE_TITLE in guide(empty_live, path)
    for path in ("/records", "/trends", "/cases", "/presses", "/charts"):
        assert guide(empty_live, path) == "Nothing is recorded yet. Step 1 of 4: the shop Go on"
    assert "Step 1 of 4" in guide(empty_live, "/setup", "?part=fabrics")
    assert "None" not in guide(app, "/") and setup_text.GUIDE_TITLE not in guide(app, "/")


def step(app: Dash, name: str, texts: dict[str, Any], by: str = "Ann") -> dict[str, Any]:
    return press_button(app, {"step": name, "type": "guide-do"}, "guide-field", texts, by=by)


SHOP = {"shop_name": "Quillmere", "timezone": "Europe/Lisbon", "temperature_unit": "f",
        "length_unit": "in", "pressure_unit": "psi"}
MATERIAL = {"fabric": "cotton fleece", "transfer": "foam film", "temperature_c": "",
            "dwell_s": "", "pressure_class": NOT_SAID, "peel": None}


def test_the_first_run_asks_about_a_heat_in_another_unit(empty_live: Dash) -> None:
    step(empty_live, "shop", SHOP | {"temperature_unit": "c"})
    step(empty_live, "press", {"press": "P1"})
    done = step(empty_live, "material", MATERIAL | {"temperature_c": "305"})
    assert errors(done) == {}
    said = guide(empty_live, "/")  # as it is drawn anew after the step
    assert "305 °C is hotter than any transfer" in said.replace("\u00a0", " ")


def test_the_first_run_step_by_step(empty_live: Dash) -> None:
    assert "it needs a name" in errors(step(empty_live, "shop", SHOP | {"shop_name": " "}))[
        "shop_name"].lower()
    assert "Nobody is named" in was_said(
        step(empty_live, "shop", SHOP, by=""), "guide-said")
    assert step(empty_live, "shop", SHOP)["shop-name"]["children"] == "Quillmere"
    assert errors(step(empty_live, "press", {"press": ""}))[
        "press"] == "Press is blank: it is needed."
    step(empty_live, "press", {"press": "P1"})
    assert "Step 3 of 4" in guide(empty_live, "/trends")
    bad = step(empty_live, "material", MATERIAL | {"temperature_c": "hot"})
    assert errors(bad) == {"temperature_c": "Temperature is 'hot', not a number."}
    # what the first try kept already stays, and the next one goes on from there
    done = step(empty_live, "material", MATERIAL | {"temperature_c": "310", "peel": "warm"})
    assert errors(done) == {}
    said = guide(empty_live, "/")
    assert setup_text.GUIDE_BENCH in said and said.count(setup_text.GUIDE_DONE) == 3
    assert guide(empty_live, "/records") == "" and "Step 4 of 4" in guide(empty_live, "/trends")
    assert "310\u202f°F" in words(shown(empty_live, part="recipes"))


def test_the_sheet_of_a_job_has_its_own_address(live: Dash) -> None:
    client = live.server.test_client()
    tree = shown(live, part="jobs", item="J%2F1")
    page, paper = (next(to for to in links(tree) if to.endswith(form))
                   for form in (".html", ".pdf"))
    answer = client.get(page)
    assert answer.status_code == 200 and "Job sheet: J/1" in answer.get_data(as_text=True)
    assert "150 °C" in answer.get_data(as_text=True)
    assert client.get(paper).get_data().startswith(b"%PDF")
    for path in ("/jobs/none.html", "/jobs/J%2F1.exe", "/jobs/J"):
        assert client.get(path).status_code == 404


def test_the_zone_in_force_can_always_be_chosen() -> None:
    assert "Europe/Lisbon" in zones_with("UTC") and zones_with("UTC")[0] == "UTC"
    assert zones_with("US/Pacific")[0] == "US/Pacific"
    assert len(zones_with("UTC")) > 300


def test_words_about_columns_are_said_in_the_forms_own_names() -> None:
    refused = FormError({"k": ["k is 99; allowed: 0.5 to 10"], "sensor": ["sensor is 'k'"],
                         "uncertainty_c": ["uncertainty_f is 'x', not a number"]})
    ids = [{"name": name} for name in ("k", "sensor", "uncertainty_c", "due_at")]
    assert errors_of(refused, ids, "instruments")[0] == (
        "Coverage factor k is 99; allowed: 0.5 to 10.")
    assert errors_of(refused, ids, "instruments")[2:] == ["Uncertainty is 'x', not a number.", None]


def test_components_are_plain() -> None:
    from dashboard.pages.setup.layout import layout

    assert "setup-body" in str(plain(layout("")))
