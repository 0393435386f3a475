"""The sheet as HTML, as PDF, and its body map as SVG."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from service.domain.answer import PlanAnswer
from service.domain.dressing import EventKind
from service.sheet.basis import Basis, make_basis
from service.sheet.body_map import Fill, swatch_style
from service.sheet.contents import make_plan_sheet
from service.sheet.done_form import act_words
from service.sheet.drawn_words import outline_joined_letters
from service.sheet.theatre_list_page import make_list_page
from service.sheet.workbench_page import WorkbenchPage
from service.wording.cautions import CAUTIONS
from service.wording.languages import SOURCE_LANGUAGE, Language, Words, gettext_for, localise

TEMPLATES = Path(__file__).parent / "templates"
STATIC = Path(__file__).parent / "static"
#: Sizes of paper that a sheet is laid out for.
PAPERS = ("A4", "letter")
_CHART_WIDTH = 700


@lru_cache
def _environment(language: Language) -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=select_autoescape(), undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, extensions=["jinja2.ext.i18n"])
    words = gettext_for(language)
    environment.install_gettext_translations(words, newstyle=True)
    environment.filters["local"] = lambda text: localise(str(text), language)
    return environment


def write_sheet_html(answer: PlanAnswer, plan_sha256: str, language: Language) -> str:
    """The whole sheet as one page, which needs nothing else.

    Parameters
    ----------
    answer : PlanAnswer
        A verified plan, or the answer that there is none.
    plan_sha256 : str
        Hash of the answer as it was written.
    language : Language
        Language of what it says; sources are named in English.
    """
    _ = Words(language)
    return _environment(language).get_template("sheet.html").render(
        sheet=make_plan_sheet(answer, plan_sha256, _), language=language, style_link="",
        style=sheet_style(), fill_words=_fill_words(_),
        acts=[(EventKind.EXCISE_WOUND, _("Excise")), (EventKind.HARVEST_SKIN, _("Take skin")),
              (EventKind.PLACE_GRAFT, _("Graft"))])


def write_list_html(answer: PlanAnswer, ordinal: int, plan_sha256: str, language: Language) -> str:
    """The theatre list of one session as one page. Raises ``KeyError`` when there is no such session."""
    _ = Words(language)
    return _environment(language).get_template("theatre_list.html").render(
        list=make_list_page(answer, ordinal, plan_sha256, _), language=language, style_link="",
        style=read_style(), act_words=act_words(_))


def write_pdf(html: str, basis: Basis, language: Language, paper: str = "A4") -> bytes:
    """A page of this package on paper, hash and last day of use at the foot of each sheet.

    Raises ``ValueError`` for a paper that is not in ``PAPERS``.
    """
    from weasyprint import CSS, HTML, URLFetcher  # slow to load, and only a PDF needs it

    if paper not in PAPERS:
        raise ValueError(f"paper is one of {', '.join(PAPERS)}")
    _ = Words(language)
    foot = " · ".join((
        "Graftstage", " ".join((_("plan hash"), basis.plan_hash)),
        " ".join((_("valid until"), localise(basis.valid_until.isoformat(), language))),
        _("for clinician review")))
    page = CSS(string=(
        f'@page {{ size: {paper}; margin: 8mm 10mm 11mm; font: 6.5pt "DejaVu Sans", sans-serif; '
        f'@bottom-left {{ content: "{foot}" }} @bottom-right {{ content: counter(page) " / " counter(pages) }} }}'))
    complete = URLFetcher(allowed_protocols=("data",), allow_redirects=False)  # what a sheet holds itself, nothing else
    return HTML(string=outline_joined_letters(html), url_fetcher=complete).write_pdf(stylesheets=[page])


def write_sheet_pdf(answer: PlanAnswer, plan_sha256: str, language: Language, paper: str = "A4") -> bytes:
    """The whole sheet on paper."""
    return write_pdf(
        write_sheet_html(answer, plan_sha256, language),
        make_basis(answer, plan_sha256, Words(language)), language, paper)


def write_list_pdf(
    answer: PlanAnswer, ordinal: int, plan_sha256: str, language: Language, paper: str = "A4",
) -> bytes:
    """The theatre list on paper."""
    return write_pdf(
        write_list_html(answer, ordinal, plan_sha256, language),
        make_basis(answer, plan_sha256, Words(language)), language, paper)


def write_course_svg(answer: PlanAnswer, plan_sha256: str, language: Language) -> str:
    """The course in one drawing: both maps, the timeline and the donor reserve, with the words that must stay by it."""
    _ = Words(language)
    sheet = make_plan_sheet(answer, plan_sha256, _)
    return _environment(language).get_template("course.svg").render(
        sheet=sheet, language=language, chart_width=_CHART_WIDTH,
        charts=[chart for chart in (sheet.timeline, sheet.reserve) if chart])


def sheet_style() -> str:
    """The style of a page with maps: that of every page, and the patterns of the legend."""
    return read_style() + swatch_style()


@lru_cache
def read_style(name: str = "sheet.css") -> str:
    return (TEMPLATES / name).read_text()


def write_not_kept(language: Language) -> str:
    """The page in place of a plan that cannot be shown."""
    return _environment(language).get_template("not_kept.html").render(
        language=language, style_link="",
        style=read_style())


def write_workbench(page: WorkbenchPage, language: Language, *, root: str, **told: object) -> str:
    """The workbench in one of its states; ``root`` is the prefix under which a proxy serves it."""
    _ = Words(language)
    return _environment(language).get_template("workbench.html").render(
        page=page, language=language, root=root, query=_query(language), cautions=[_(line) for line in CAUTIONS],
        style_link=f"{root}/workbench/style.css", act_words=act_words(_), fill_words=_fill_words(_), **told)


def _query(language: Language) -> str:
    """What an address needs to keep the language."""
    return "" if language.code == SOURCE_LANGUAGE else f"?language={language.code}"


def _fill_words(_: Words) -> dict[Fill, str]:
    return {
        Fill.SHEET: _("sheet"), Fill.MESHED: _("meshed"), Fill.ISLAND: _("islands"), Fill.WAITING: _("waits"),
        Fill.HARVESTED: _("skin is taken"), Fill.HEALING: _("healing"), Fill.RESERVE: _("in reserve"),
    }
