"""``ratoon slide``: crystals on a photograph of a proof slide, counted and measured."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ratoon.base.as_json import to_json
from ratoon.base.errors import BadInput
from ratoon.cli import say

if TYPE_CHECKING:
    from ratoon.laboratory.slide_sizes import Basis, SlideFigure, SlideResult


def slide(
    picture: Annotated[Path, typer.Argument(metavar="PICTURE", help="A photograph of the slide.")],
    scale: Annotated[
        float | None, typer.Option(metavar="UM_PER_PIXEL", help="Micrometres a pixel.")
    ] = None,
    scale_from: Annotated[
        Path | None,
        typer.Option(
            metavar="PICTURE", help="A stage micrometer of 10 um, taken as the slide was."
        ),
    ] = None,
    basis: Annotated[
        str, typer.Option(metavar="number|mass", help="How crystals are weighted.")
    ] = "number",
    json: say.AsJson = False,
) -> int:
    """How large are the crystals, and how even? Nothing leaves this machine."""
    from ratoon.laboratory.micrometer import um_per_pixel
    from ratoon.laboratory.pictures import read_grey
    from ratoon.laboratory.slide_sizes import measured

    if basis not in ("number", "mass"):
        raise typer.BadParameter(f"{basis!r} is not number or mass", param_hint="--basis")
    if scale is not None and scale_from is not None:
        raise typer.BadParameter("give --scale or --scale-from, not both", param_hint="--scale")
    if scale is not None and not 0.0 < scale < 1e6:
        raise BadInput("must be above zero", where="--scale", value=scale)
    by: Basis = "mass" if basis == "mass" else "number"
    if scale_from is not None:
        scale = um_per_pixel(read_grey(scale_from), str(scale_from))
        say.tell(f"{scale:.4g} micrometres a pixel by {scale_from.name}: check it by hand")
    result = measured(read_grey(picture), scale or 1.0, by)
    if not result.count:
        say.tell(f"{picture.name}: no crystal was found on it")
    elif scale is None:
        say.tell("no scale was given: sizes are in pixels")
    if json:
        say.answer_json(to_json(result))
    else:
        say.answer(_in_words(result, "um" if scale else "px"))
    return say.DONE


def _in_words(result: SlideResult, unit: str) -> list[str]:
    import numpy as np

    from ratoon.laboratory.slide_sizes import shape_of

    lines = [f"{result.count} crystals, {result.rejected} left out (too small, or cut by the edge)"]
    if result.ma is None or result.cv is None or result.bias is None:
        return lines

    def told(figure: SlideFigure, sign: str = "") -> str:
        return f"{figure.value:{sign}.3g} ({figure.low:{sign}.3g} to {figure.high:{sign}.3g})"

    bias = result.bias
    grown = sum(shape_of(np.array(o)).is_conglomerate for o in result.outlines)
    return [
        *lines,
        f"MA {told(result.ma)} {unit}, CV {told(result.cv)} %, by {result.basis}",
        f"fines {result.fines:.1f} %, length over width {result.elongation:.2f}, {grown} of them"
        " bend inwards as conglomerates do",
        f"finding and parting may have moved MA by {told(bias.ma, '+')} %, CV by"
        f" {told(bias.cv, '+')}, count by {told(bias.count, '+')} %",
    ]
