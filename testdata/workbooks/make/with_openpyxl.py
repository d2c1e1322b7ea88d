"""Workbooks written by openpyxl 3.0.9 (Debian python3-openpyxl): run in testdata/workbooks."""
from openpyxl import Workbook
from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.workbook.protection import WorkbookProtection
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.pagebreak import Break
from openpyxl.worksheet.table import Table, TableStyleInfo

from lines import HEADER, LINES, SHOP

THIN = Border(*[Side(style="thin")] * 4)


def start(title="Order"):
    b = Workbook()
    s = b.active
    s.title = title
    b.properties.creator = SHOP
    s["A1"] = SHOP + ": parts order"
    s["A1"].font = Font(bold=True, size=14)
    return b, s


def lines(s, row, total=True, columns=(1, 2, 3, 4, 5, 6, 7, 8, 9)):
    for c, text in zip(columns, HEADER):
        s.cell(row, c, text).font = Font(bold=True)
        s.cell(row, c).fill = PatternFill("solid", start_color="FFDDE6EE")
    for i, line in enumerate(LINES):
        r = row + 1 + i
        for c, v in zip(columns, list(line) + [None, "GBP"]):
            s.cell(r, c, v).border = THIN
        qty, price, sum_ = (s.cell(r, columns[k]) for k in (5, 6, 7))
        price.number_format, sum_.number_format = "#,##0.000000", "#,##0.00"
        if total:
            sum_.value = "=%s*%s" % (qty.coordinate, price.coordinate)


def table_notes():
    b, s = start()
    lines(s, 4)
    t = Table(displayName="OrderLines", ref="A4:I7")
    t.tableStyleInfo = TableStyleInfo(name="TableStyleMedium2", showRowStripes=True)
    s.add_table(t)
    s["A10"] = "Deliver to the back door"
    s["A11"] = "Sum of the lines"
    s["H11"] = "=SUM(OrderLines[Line total])"
    s["A12"] = "with carriage"
    s["H12"] = "=H11+7.5"
    other = b.create_sheet("Summary")
    other["A1"] = "=COUNTA(OrderLines[Part])"
    other["A2"] = "=SUM(OrderLines[Qty])"
    b.save("table-notes.xlsx")


def validation():
    b, s = start()
    lines(s, 4)
    s["A9"], s["H9"] = "Total", "=SUM(H5:H8)"
    for i, v in enumerate(["Peatgate Components", "Brackwater Supply", "Stillholm Trade"]):
        s.cell(5 + i, 12, v)
    for i, v in enumerate(["GBP", "EUR", "USD"]):
        s.cell(10 + i, 12, v)
    lists = b.create_sheet("Lists")
    for i, v in enumerate(["C9", "C20 C21", "C22 C23"]):
        lists.cell(1 + i, 1, v)
    for where, dv in (
        ("A5:A8", DataValidation(type="list", formula1="$L$5:$L$7", allow_blank=True)),
        ("I5:I8", DataValidation(type="list", formula1="$L$10:$L$12", allow_blank=True)),
        ("E5:E8", DataValidation(type="list", formula1="Lists!$A$1:$A$3", showErrorMessage=False)),
        ("F5:F8", DataValidation(type="whole", operator="greaterThan", formula1="0", error="At least one")),
        ("G5:G8", DataValidation(type="custom", formula1="AND(G5>=0,G5<$H$9)")),
        ("H9", DataValidation(type="decimal", operator="lessThan", formula1="10000")),
    ):
        s.add_data_validation(dv)
        dv.add(where)
    b.save("validation.xlsx")


def protected():
    b, s = start()
    lines(s, 4)
    s["A2"], s["B2"] = "Total", "=SUM(H5:H7)"
    for r in range(5, 8):
        for c in range(1, 10):
            s.cell(r, c).protection = Protection(locked=c == 8)
    s.protection.sheet = True
    s.protection.password = "bench"
    s.protection.sort = False
    b.security = WorkbookProtection(lockStructure=True)
    hidden = b.create_sheet("Prices")
    hidden.sheet_state = "veryHidden"
    hidden["A1"] = "=Order!B2*1.5"
    b.save("protected.xlsx")


def merged():
    b, s = start()
    s.merge_cells("A1:J1")
    columns = (1, 2, 3, 4, 6, 7, 8, 9, 10)  # the description takes D and E
    lines(s, 5, columns=columns)
    for r in range(5, 9):
        s.merge_cells("D%d:E%d" % (r, r))
        s.cell(r, 4).alignment = Alignment(horizontal="left")
    s["A9"], s["I9"] = "Total", "=SUM(I6:I8)"
    s.merge_cells("A9:H9")
    s["A11"] = "Ordered by"
    s.merge_cells("A11:B12")
    s.row_dimensions[8].height = 24
    b.save("merged.xlsx")


def names():
    b, s = start()
    lines(s, 4)
    s["A8"], s["H8"], s["F8"] = "Total", "=SUM(LineTotals)", "=SUM(F5:F7)"
    s["A9"], s["H9"] = "with VAT", "=OrderTotal*1.2"
    for name, text in (("LineTotals", "Order!$H$5:$H$7"), ("OrderTotal", "Order!$H$8"), ("Pieces", "Order!$F:$F"), ("Vat", "0.2"), ("LineAbove", "Order!H1")):
        b.defined_names.append(DefinedName(name, attr_text=text))
    s.print_area = "A1:I9"
    s.print_title_rows = "1:4"
    s.freeze_panes = "B5"
    s.auto_filter.ref = "A4:I7"
    s.row_breaks.append(Break(id=7))
    s.row_breaks.append(Break(id=3))
    other = b.create_sheet("Summary")
    other["A1"] = "=OrderTotal"
    other["A2"] = "=SUM(LineTotals)"
    other["A3"] = "=MAX(Pieces)"
    b.save("names.xlsx")


for make in (table_notes, validation, protected, merged, names):
    make()
