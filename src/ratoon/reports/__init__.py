"""Result records to paper and screen: the morning sheet as HTML, PDF and JSON; the day's workbook.

May import `base` and the calculation rooms' records; never the store, the pages or the jobs.
Read `numbers` (digits and words of figures), `morning` (the sheet as one record), `layout` (which
figures are on it), `compose` with `figures` and `doubts` (from result to sheet), `tokens`, `svg`,
`whisker`, `ribbon`, `band` (the drawings), `html` and `paper` (the two bodies), `write` (files on
disk), `workbook` (a spreadsheet).
"""
