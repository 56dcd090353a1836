"""The mill's own report filled by address: only the named cells change, all else stays."""

import io
import zipfile
from datetime import date
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from ratoon.account.by_rate import Beginning
from ratoon.base.errors import BadInput
from ratoon.jobs.files.imports import import_files
from ratoon.jobs.fill import fill_book
from ratoon.jobs.keep.new import new_mill
from ratoon.jobs.mills import in_mill

DAY = date(2025, 8, 13)
READ = {"cane.weight": (9312, "t"), "first_juice.brix": (21.76, "%"), "sugar.weight": (1275, "t"),
        "first_juice.pol": (19.12, "%"), "cane.fibre_laboratory": (15.83, "%")}  # fmt: skip
DOT = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010806000000"
    "1f15c4890000000d49444154789c6360606060000000050001a5f645400000000049454e44ae426082"
)


@pytest.fixture(scope="module")
def mill(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("fill") / "mill"
    new_mill(folder, Beginning("Our Mill", "UTC", rate=470.0))
    rows = [f"{a},{DAY},,{v},{u},,," for a, (v, u) in READ.items()]
    head = "address,start,end,value,unit,sigma,source,note"
    (folder / "day.csv").write_text("\n".join([head, *rows, ""]), encoding="utf-8")
    import_files(folder, [folder / "day.csv"])
    return folder


def report(path: Path) -> Path:
    """A form of head office's: a chart, a picture, formulas, formats and five named cells."""
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Head office's form")
        red = book.add_format({"num_format": "0.00", "font_color": "red"})
        sheet.write("A1", "Sugar, t")
        sheet.write("B1", -1, red)
        sheet.write_formula("C1", "=B1*2", None, -2)
        sheet.write("A3", "Cane")
        chart = book.add_chart({"type": "column"})
        chart.add_series({"values": "='Head office''s form'!$B$1:$C$1"})
        sheet.insert_chart("E5", chart)
        sheet.insert_image("E20", "dot.png", {"image_data": io.BytesIO(DOT)})
        cells = {"account.sugar": "B1", "cane.weight": "B3", "account.liquor_brix": "B4",
                 "sugar.weight": "AA3", "prepared_by": "D1"}  # fmt: skip
        for name, cell in cells.items():
            letters, row = cell.rstrip("0123456789"), cell.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
            book.define_name(name, f"='Head office''s form'!${letters}${row}")
    held = parts(path)  # a form that somebody saved does not ask to be worked out anew
    held["xl/workbook.xml"] = held["xl/workbook.xml"].replace(b' fullCalcOnLoad="1"', b"")
    packed(path, held)
    return path


def packed(path: Path, held: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w") as package:
        for name, body in held.items():
            package.writestr(name, body)


def parts(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as package:
        return {name: package.read(name) for name in package.namelist()}


def test_only_the_named_cells_change(mill: Path, tmp_path: Path) -> None:
    path = report(tmp_path / "report.xlsx")
    before = parts(path)
    done = in_mill(mill, fill_book, path, DAY)
    assert set(done.filled) == {"account.sugar", "cane.weight", "sugar.weight"}
    assert done.empty == ("account.liquor_brix",) and done.left == ("prepared_by",)
    after = parts(path)
    changed = {name for name in after if after[name] != before.get(name)}
    assert set(after) == set(before)
    assert changed == {"xl/worksheets/sheet1.xml", "xl/workbook.xml"}
    assert any("chart" in name for name in after) and any(name.endswith(".png") for name in after)
    sheet = openpyxl.load_workbook(path)["Head office's form"]
    assert sheet["B1"].value == pytest.approx(1275.0, rel=0.01)
    assert sheet["B1"].number_format == "0.00" and sheet["B1"].font.color.rgb == "FFFF0000"
    assert sheet["B3"].value == pytest.approx(9312.0, rel=0.01) and sheet["A3"].value == "Cane"
    assert sheet["C1"].value == "=B1*2" and sheet["B4"].value is None
    assert sheet["AA3"].value == pytest.approx(1275.0, rel=0.01)
    again = parts(path)
    in_mill(mill, fill_book, path, DAY)
    assert parts(path) == again


def test_what_would_be_lost_is_refused_and_the_book_stays(mill: Path, tmp_path: Path) -> None:
    path = tmp_path / "formula.xlsx"
    with xlsxwriter.Workbook(path) as book:
        book.add_worksheet("A").write_formula("B2", "=1+1")
        book.define_name("account.cane", "=A!$B$2")
    before = path.read_bytes()
    with pytest.raises(BadInput, match="formula, which would be lost"):
        in_mill(mill, fill_book, path, DAY)
    assert path.read_bytes() == before and [p.name for p in tmp_path.iterdir()] == [path.name]


def test_a_cell_of_a_pivot_table_is_refused(mill: Path, tmp_path: Path) -> None:
    path = report(tmp_path / "pivot.xlsx")
    held = parts(path)
    rels = "xl/worksheets/_rels/sheet1.xml.rels"
    link = b'<Relationship Id="rId9" Type="x/pivotTable" Target="../pivotTables/pivotTable1.xml"/>'
    held[rels] = held[rels].replace(b"</Relationships>", link + b"</Relationships>")
    held["xl/pivotTables/pivotTable1.xml"] = (
        b'<pivotTableDefinition xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        b'<location ref="A1:B9"/></pivotTableDefinition>'
    )
    packed(path, held)
    with pytest.raises(BadInput, match="pivot table A1:B9"):
        in_mill(mill, fill_book, path, DAY)


def test_what_is_no_such_workbook_is_one_line(mill: Path, tmp_path: Path) -> None:
    text, none = tmp_path / "a.xlsx", tmp_path / "b.xlsx"
    text.write_text("cane,1", encoding="utf-8")
    with xlsxwriter.Workbook(none) as book:
        book.add_worksheet("A").write("A1", 1)
    for path, words in ((text, "no workbook"), (none, "no cell is named"),
                        (tmp_path / "c.xlsx", "cannot be read")):  # fmt: skip
        with pytest.raises(BadInput, match=words):
            in_mill(mill, fill_book, path, DAY)
