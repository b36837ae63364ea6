"""The bench's page as a document of its own: everything in it comes from this server, and a copy
kept by the browser opens without it."""

from __future__ import annotations

import json
from html import escape

from dashboard import text, theme
from dashboard.text import bench as words
from qc.domain.kinds import ZONES
from qc.domain.records import STAGES

_PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="icon" type="image/svg+xml" href="/assets/peel.svg">
<link rel="preload" as="font" type="font/woff2" crossorigin
 href="/assets/fonts/atkinson-hyperlegible-next-latin-wght-normal.woff2">
<script src="/assets/early.js"></script>
<style>{style}</style>
<link rel="stylesheet" href="/assets/base.css">
<link rel="stylesheet" href="/assets/bench/bench.css">
</head>
<body class="bench-body">
<noscript>{no_script}</noscript>
<a href="#page" class="skip">{skip}</a>
{masthead}
<main id="page" tabindex="-1"><div class="page page-bench">
<h1 class="unseen" tabindex="-1">{name}</h1>
{work}
<ul class="signs" id="signs" aria-label="{signs_label}"><li>{signs_wait}</li></ul>
<div class="bench-grid">
{print}
{faults}
<div class="bench-side">{last}{job}</div>
</div>
{limits}
<p class="bench-keys"><label><input type="checkbox" id="keys" checked> {keys_switch}</label>
<span>{keys}</span></p>
<p class="bench-caution">{caution}</p>
</div></main>
<dialog id="work-panel" aria-labelledby="work-title"></dialog>
<script type="application/json" id="bench-words">{data}</script>
<script src="/assets/shell.js"></script>
<script type="module" src="/assets/bench/main.js"></script>
</body>
</html>
"""


def bench_page(shop_name: str) -> str:
    """The page as HTML; what is on the bench comes with its script."""
    return _PAGE.format(
        title=escape(words.TITLE), style=theme.style_sheet(), skip=escape(text.SKIP),
        no_script=escape(words.NO_SCRIPT), masthead=_masthead(shop_name), name=text.PAGES["/bench"],
        work=_work(), print=_print(), faults=_faults(), last=_last(), job=_job(),
        limits=_limits(), keys=escape(words.KEYS), keys_switch=escape(words.KEYS_SWITCH),
        caution=escape(words.CAUTION), data=_data(), signs_label=words.SIGNS_LABEL,
        signs_wait=words.SIGNS_WAIT,
    )


def _masthead(shop_name: str) -> str:
    """The same head as over every other page (`dashboard/shell.py`)."""
    first = [path for path in text.PAGES if path not in text.MORE_PAGES]
    more = f'<button id="more" type="button" class="tab more-button" aria-expanded="false" ' \
           f'aria-controls="more-pages">{text.MORE}</button>'
    return (
        '<header class="masthead"><div class="name"><span class="peel" aria-hidden="true"></span>'
        f'<span class="maker"><strong>{text.PRODUCT}</strong>'
        f'<span class="shop">{escape(shop_name)}</span>'
        '<span class="shop" id="sending" role="status"></span></span></div>'
        f'<nav id="nav" aria-label="{text.NAV_LABEL}">{"".join(map(_tab, first))}{more}'
        f'<div id="more-pages">{"".join(map(_tab, text.MORE_PAGES))}</div></nav>'
        '<div class="tools"><button id="turn" class="turn" type="button"'
        f' data-to-dark="{text.TO_DARK}" data-to-dark-hint="{text.TO_DARK_HINT}"'
        f' data-to-light="{text.TO_LIGHT}" data-to-light-hint="{text.TO_LIGHT_HINT}"></button>'
        "</div></header>"
    )


def _tab(path: str) -> str:
    here = ' here" aria-current="page' if path == "/bench" else ""
    return (f'<a class="tab{here}" href="{path}" title="{escape(text.PAGE_LEADS[path])}">'
            f"{text.PAGES[path]}</a>")


def _work() -> str:
    """The strip at the top: what stays set until somebody changes it."""
    return (
        f'<section class="work" aria-label="{words.WORK_LABEL}">'
        f'<div class="work-field work-job"><label for="job">{words.JOB}</label>'
        f'<input id="job" list="job-list" autocomplete="off" autocapitalize="characters"'
        f' spellcheck="false" placeholder="{words.JOB_HINT}"><datalist id="job-list"></datalist>'
        '</div><div class="work-shown" id="work-shown"></div>'
        f'<button type="button" class="button" id="work-open">{words.MORE_WORK}</button>'
        '<p class="work-needs" id="work-needs" role="status"></p></section>'
    )


def _print() -> str:
    zones = "".join(
        f'<button type="button" class="zone" data-zone="{zone}" aria-pressed="false"'
        f' aria-keyshortcuts="{key}"><span>{words.ZONE_WORDS[zone]}</span></button>'
        for zone, key in zip(ZONES, "789456123", strict=True))
    return (
        f'<section class="bench-print" aria-label="{words.PRINT_LABEL}">'
        f'<p class="bench-prompt" id="prompt" role="status"></p>'
        f'<div class="garment" id="garment"><div class="print" id="print">{zones}</div></div>'
        f'<button type="button" class="button no-place" id="no-place" hidden>{words.NO_PLACE}'
        "</button></section>"
    )


def _faults() -> str:
    stacks = "".join(
        f'<button type="button" class="stack" data-stack="{n}"'
        f' aria-label="{words.STACK_NAME.format(n=n)}">{words.STACK.format(n=n)}</button>'
        for n in (5, 10))
    return (
        f'<section class="bench-faults" aria-label="{words.FAULTS_LABEL}">'
        '<div class="again-banner" id="again-banner" hidden></div>'
        f'<div class="good-row"><button type="button" class="good" id="good"'
        f' aria-keyshortcuts="g"><strong>{words.GOOD}</strong><span>{words.GOOD_HINT}</span>'
        f'</button>{stacks}</div><div class="faults" id="faults"></div>'
        f'<button type="button" class="button" id="more-faults" aria-expanded="false"'
        f' aria-controls="other-faults">{words.MORE_FAULTS}</button>'
        '<div class="faults other-faults" id="other-faults" hidden></div></section>'
    )


def _last() -> str:
    return (
        f'<section class="paper last" aria-label="{words.LAST_LABEL}">'
        '<div class="last-top"><p id="last-said" role="status"></p>'
        f'<button type="button" class="button undo" id="undo" aria-keyshortcuts="u" disabled>'
        f'{words.UNDO}</button></div><div id="last-more"></div><ol id="earlier"></ol>'
        '<div id="refused"></div></section>'
    )


def _job() -> str:
    return (
        f'<section class="paper standing" aria-label="{words.JOB_LABEL}"><h2>{words.JOB_LABEL}</h2>'
        '<div id="standing"></div><div id="again"></div></section>'
    )


def _limits() -> str:
    return (
        f'<details class="paper limits" id="limits"><summary>{words.LIMITS_TITLE}</summary>'
        f'<p class="hint">{escape(words.LIMITS_NOTE)}</p><div id="limits-place"></div>'
        '<ul id="limits-list"></ul></details>'
    )


def _data() -> str:
    """The words and lists the script needs; '<' is spelled out so that no text ends the script."""
    data = {
        "words": words.WORDS, "zones": words.ZONE_WORDS, "buttons": words.DISPOSITION_BUTTONS,
        "dispositions": text.DISPOSITION_WORDS,
        "stages": {stage: words.STAGES[stage] for stage in STAGES},
        "panel": {
            "title": words.WORK_TITLE, "done": words.DONE, "press": words.PRESS,
            "operator": words.OPERATOR, "inspector": words.INSPECTOR, "fabric": words.FABRIC,
            "transfer": words.TRANSFER, "location": words.PLACE,
            "transfer_lot": words.TRANSFER_LOT, "garment_lot": words.GARMENT_LOT,
            "size": words.SIZE, "station": words.STATION, "stage": words.STAGE,
            "settings": words.SETTINGS_TITLE, "settings_hint": words.SETTINGS_HINT,
            "as_recipe": words.AS_RECIPE,
        },
    }
    return json.dumps(data, ensure_ascii=False).replace("<", "\\u003c")
