"""Result records to paper and screen: the morning sheet as HTML, PDF and JSON; the day's workbook.

May import `base` and the calculation rooms' records; never the store, the pages or the jobs.
Read `contract` (what an account's result holds), `numbers` (digits and words for figures),
`tokens` and `drawings` (colours and pictures), `morning` (the sheet as one record), `html` and
`paper` (its two bodies), `write` (files on disk), `workbook` (the day as a spreadsheet).
"""
