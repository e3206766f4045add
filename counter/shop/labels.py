"""Labels for what was made: refused for what may not be sold, recorded when printed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from counter.errors import BadInput, NotFound, NotSafe, Refused
from counter.shop.desk import Desk
from counter.shop.facts import facts_of
from counter.shop.production import Production
from counter.shop.products import Products
from counter.trade.asking import Question
from counter.trade.catalogue import Product
from counter.trade.doubts import of_packs
from counter.trade.label_questions import questions_of
from counter.trade.ledger import Printed
from counter.trade.production import Batch
from counter.trade.stock import refusal_for
from counter.trade.weighed import WeighedPack, weigh_pack
from labels.say import say
from labels.units import parse_measure

if TYPE_CHECKING:
    from counter.shop.printing import Sent
    from labels import Blank, Label
    from labels.facts import Facts
    from labels.pdf import Built
    from labels.units import Measure

MOST_LABELS = 5000
DRAWING = 1  # the share of the steps that is left for drawing and reading back
Progress = Callable[[int, int], None]


class LabelRun(msgspec.Struct, frozen=True):
    """What came out: the file, how many labels on how many pages, for which lots, which of them
    had been printed before, for a printer of how many dots an inch, and how large a page is."""

    path: str
    labels: int
    pages: int
    lots: tuple[str, ...]
    again: tuple[str, ...] = ()
    dpi: int = 0
    page_mm: tuple[float, float] = (0, 0)


class Labels:
    """Labels."""

    def __init__(self, desk: Desk, products: Products, production: Production) -> None:
        self.desk = desk
        self.products = products
        self.production = production

    def blank(self, name: str = "", dpi: int = 0) -> Blank:
        """A blank by name: the shop's own first, then the common measures.

        ``dpi``: for a printer of another resolution than the blank says.
        """
        from labels import blank_named

        name = name or self.desk.settings.labels.blank
        found = self.desk.settings.blanks.get(name) or blank_named(name)
        return msgspec.structs.replace(found, dpi=dpi) if dpi else found

    def blanks(self) -> dict[str, Blank]:
        """Every blank by name: the shop's own first, then the common measures."""
        from labels.blanks import BLANKS

        return {
            **self.desk.settings.blanks,
            **{k: v for k, v in BLANKS.items() if k not in self.desk.settings.blanks},
        }

    def label(
        self, lot: str, blank: str = "", weight: Measure | None = None, dpi: int = 0
    ) -> Label:
        """The label of a lot, placed; with ``weight`` that of one pack of random weight.

        Refused for a lot that may not be sold.
        """
        from labels import lay_out

        batch = self.desk.batch(lot)
        self.refuse_unsafe(batch)
        product = self.products.product_of(batch)
        behind = self.products.catalogue_behind(batch)
        self.production.refuse_unsaid(say("label lot {lot}", lot=lot), product, batch, behind)
        facts = self.facts(batch, product, weight)
        return lay_out(
            facts,
            market=self.desk.settings.shop.market,
            blank=self.blank(blank or product.pack.blank, dpi),
            language=self.desk.settings.label_language,
            second_face=self.desk.second_face(),
        )

    def facts(self, batch: Batch, product: Product, weight: Measure | None = None) -> Facts:
        """What is to be said on the pack, with the shop's logo if shop.toml names one."""
        catalogue = self.products.catalogue_behind(batch)
        lot = self.production.lot_now(batch)
        facts = facts_of(
            batch, product, catalogue, self.desk.settings, self.desk.batch, weight, lot
        )
        logo = self.desk.settings.labels.logo
        if not logo:
            return facts
        return msgspec.structs.replace(facts, logo=str((self.desk.folder or Path()) / logo))

    def scale_check(self, path: Path | None = None, blank: str = "") -> tuple[Path, float]:
        """A test page of a blank, and the length in mm its ruler must have on paper."""
        from counter.languages import language_of
        from labels.scale import write_scale_check

        spoken = language_of(self.desk.settings.shop.language)
        path = self.desk.files.unused(path) or self.desk.files.place("labels") / "scale-check.pdf"
        return path, write_scale_check(path, self.blank(blank), spoken.code, spoken.shown)

    def picture_labels(self, run: LabelRun, path: Path) -> Path:
        """The first page of printed labels as a PNG of one bit a dot, at the printer's dots."""
        from labels.files import write_whole
        from labels.picture import png

        self.desk.files.unused(path)
        write_whole(path, png(Path(run.path), run.dpi))
        return path

    def send_labels(self, run: LabelRun, printer: str = "") -> Sent:
        """Hand printed labels to the system's printing; what became of them, or Refused."""
        from counter.shop.printing import send_to_printer

        name = printer or self.desk.settings.labels.printer
        return send_to_printer(Path(run.path), name, run.page_mm)

    def label_questions(self, lots: Sequence[str], weight: Measure | None = None) -> list[Question]:
        """What a person must say before labels of these lots are printed, answered or not."""
        found = []
        for lot in lots:
            batch = self.desk.batch(lot)
            product = self.products.product_of(batch)
            facts = self.facts(batch, product, weight)
            found += questions_of(batch, product, facts, self.desk.settings.shop.market)
        return found

    def refuse_unsafe(self, batch: Batch) -> None:
        """No cook, no label; nor for a stopped lot or one past its date."""
        if refusal := self.refusal_to_label(batch):
            raise refusal

    def refusal_to_label(self, batch: Batch) -> NotSafe | None:
        """Why a batch may not be labelled, or None; that its labels are old is mended by new ones.
        Calm twin of a refusal."""
        lot = msgspec.structs.replace(self.production.lot_now(batch), relabel=0)
        return refusal_for(lot, self.desk.now(), "refuse", say("label lot {lot}", lot=batch.lot))

    def labels_for(self, batch: Batch) -> int:
        """How many labels a batch wants: one a piece, else one a tub or mould."""
        if batch.unit == "piece":
            return batch.made
        return -(-batch.made // self.products.product_of(batch).mould)

    def weigh_packs(self, lot: str, weights: Sequence[Measure]) -> list[WeighedPack]:
        """What packs of a lot cost that weigh so much, each, and the number it is sold by.

        Refused where the lot is not sold by weight or may not be sold at all.
        """
        batch = self.desk.batch(lot)
        self.refuse_unsafe(batch)
        product = self.products.product_of(batch)
        settings, catalogue = self.desk.settings, self.products.catalogue_behind(batch)
        return [
            weigh_pack(product, catalogue, one, settings.layouts, settings.places)
            for one in weights
        ]

    def by_weight(self, batch: Batch) -> str:
        """What a batch is sold by, lb or kg; "" where it is sold by the piece or scooped."""
        return next(
            (
                p.per
                for p in self.products.catalogue_behind(batch).portions_of(batch.product)
                if p.per
            ),
            "",
        )

    def preview_weighed(
        self,
        lot: str,
        weights: Sequence[Measure],
        blank: str = "",
        start: int = 1,
        used: Sequence[int] = (),
        page: int = 1,
    ) -> tuple[Built, int]:
        """One page of what :meth:`print_labels` would write for weighed packs, and of how many.

        Only the packs of that page are laid out: every one is a label of its own.
        """
        from labels.pdf import build_pdf

        product = self.products.product_of(self.desk.batch(lot))
        whole = self.blank(blank or product.pack.blank).per_page
        first = len(set(range(start, whole + 1)) - set(used))
        pages = 1 + max(0, -(-(len(weights) - first) // whole))
        page = min(max(page, 1), pages)
        begin = 0 if page == 1 else first + (page - 2) * whole
        shown = weights[begin : first + (page - 1) * whole] if first else weights[:1]
        runs = self._runs([(lot, None)], blank, shown)
        if page > 1:
            start, used = 1, ()
        return build_pdf(runs, start=start, used=tuple(used)), pages

    def preview_labels(
        self,
        wanted: Sequence[tuple[str, int | None]],
        blank: str = "",
        start: int = 1,
        used: Sequence[int] = (),
    ) -> Built:
        """The very PDF that :meth:`print_labels` would write. Nothing is written."""
        from labels.pdf import build_pdf

        return build_pdf(self._runs(wanted, blank), start=start, used=tuple(used))

    def _runs(
        self,
        wanted: Sequence[tuple[str, int | None]],
        blank: str,
        weights: Sequence[Measure] = (),
        dpi: int = 0,
        progress: Progress | None = None,
    ) -> list[tuple[Label, int]]:
        """Each lot's label and how many of it; with ``weights`` a label each. NotFound where no
        lot is named."""
        if weights:
            return self._weighed_runs(wanted, blank, weights, dpi, progress)
        runs = []
        for done, (lot, count) in enumerate(wanted):
            if progress:
                progress(done, len(wanted) + DRAWING)
            label = self.label(lot, blank, dpi=dpi)
            number = self.labels_for(self.desk.batch(lot)) if count is None else count
            if not 1 <= number <= MOST_LABELS:
                do = say("Ask for 1 to {most}", most=MOST_LABELS)
                raise BadInput(
                    say("print {n} labels of lot {lot}", n=number, lot=lot),
                    say("it is no number of labels"),
                    do,
                )
            runs.append((label, number))
        if not runs:
            raise NotFound(say("print labels"), "lot", "", self.desk.fold(self.desk.today()).rows)
        return runs

    def _weighed_runs(
        self,
        wanted: Sequence[tuple[str, int | None]],
        blank: str,
        weights: Sequence[Measure],
        dpi: int,
        progress: Progress | None,
    ) -> list[tuple[Label, int]]:
        """One label for each weight of one lot. Equal weights are the same label."""
        _check_weighed(wanted, weights)
        placed: dict[Measure, Label] = {}
        different = set(weights)
        for weight in different:
            placed[weight] = self.label(wanted[0][0], blank, weight, dpi)
            if progress:
                progress(len(placed), len(different) + len(different) // 4 + DRAWING)
        return [(placed[weight], 1) for weight in weights]

    def print_labels(
        self,
        wanted: Sequence[tuple[str, int | None]],
        path: Path | None = None,
        blank: str = "",
        start: int = 1,
        used: Sequence[int] = (),
        at: datetime | None = None,
        by: str = "",
        weights: Sequence[Measure] = (),
        dpi: int = 0,
        progress: Progress | None = None,
    ) -> LabelRun:
        """Labels of lots as one PDF, ``(lot, how many or None for all it made)``, and a record.

        ``start`` is the first free position of a sheet, ``used`` positions are skipped. ``weights``
        are those of packs of the one lot that is named: a label each. The file is whole and read
        back, or it is not there. ``progress`` is told how far the laying out has come.
        """
        from labels import write_pdf

        self.products.refuse_new(say("print labels"))
        self.desk.files.unused(path)
        if weights:
            _check_weighed(wanted, weights)
        asked = self._doubts_of_packs(wanted[0][0], weights) if weights else []
        lots = [lot for lot, _ in wanted]
        drawn = [self.production.as_it_lies(self.desk.batch(lot)) for lot in lots]
        runs = self._runs(wanted, blank, weights, dpi, progress)
        self.desk.questions.answered([*asked, *self._doubts_of_day_at(at)], by)
        self.desk.questions.confirm(self.label_questions(lots, weights[0] if weights else None), by)
        numbers = zip(lots, [len(weights)] if weights else [n for _, n in runs], strict=True)
        drawn_on = runs[0][0].blank
        if path is None:
            name = lots[0] if len(lots) == 1 else f"{self.desk.today()}"
            path = self.desk.files.new("labels", f"{name}-{drawn_on.dpi}dpi.pdf")
        printed = write_pdf(path, runs, start=start, used=tuple(used))
        with self.desk.writing(at, by) as entry:
            self._look_again(path, drawn)
            entry.ask(*asked)
            before = {lot for lot in lots if self.products.printed_of(lot)}
            for lot, number in numbers:
                entry.add(
                    Printed(
                        lot=lot,
                        labels=number,
                        blank=drawn_on.name,
                        at=entry.at,
                        file=path.name,
                        again=lot in before,
                        by=entry.by,
                    )
                )
        again = tuple(lot for lot in lots if lot in before)
        return LabelRun(
            str(path),
            printed.labels,
            printed.pages,
            tuple(lots),
            again,
            drawn_on.dpi,
            drawn_on.page_mm,
        )

    def _doubts_of_day_at(self, at: datetime | None) -> list[Question]:
        """What is asked of the day before a file is made: a record of it comes only after that."""
        entry = self.production.as_if(at, "")
        return self.desk.doubts_of_day(entry.ledger, entry.now)

    def _doubts_of_packs(self, lot: str, weights: Sequence[Measure]) -> list[Question]:
        tried = say("print labels of lot {lot}", lot=lot)
        batch = self.desk.batch(lot, tried)
        net = self.products.product_of(batch).pack.net
        return of_packs(weights, parse_measure(net) if net else None, batch, tried)

    def _look_again(self, path: Path, drawn: Sequence[Batch]) -> None:
        """Refuse labels of what was stopped or corrected while they were drawn: no file is left."""
        try:
            for batch in drawn:
                now = self.production.as_it_lies(self.desk.batch(batch.lot))
                self.refuse_unsafe(now)
                if now != batch:
                    why = say("it was corrected while they were drawn")
                    raise Refused(
                        say("print labels of lot {lot}", lot=batch.lot),
                        why,
                        say("Print them again"),
                    )
        except Refused:
            path.unlink(missing_ok=True)
            raise


def _check_weighed(wanted: Sequence[tuple[str, int | None]], weights: Sequence[Measure]) -> None:
    """Refuse labels by weight of several lots, by number, or too many."""
    if len(wanted) != 1 or wanted[0][1] is not None:
        tried, why = say("print labels by weight"), say("there is one for each weight of one lot")
        raise BadInput(tried, why, say("Name one lot with its weights, and no number of labels"))
    if len(weights) > MOST_LABELS:
        do = say("Ask for 1 to {most}", most=MOST_LABELS)
        raise BadInput(say("print {n} labels", n=len(weights)), say("they are too many"), do)
