"""Files in: rows accepted and rows refused with a reason. Writes nothing and knows no database.

May import `base` alone. Read `layouts` (what a file looks like), `kinds` (what a file is),
`text_file` and `workbook` (cells out of it), `cells` (text to numbers and times) and `rows`
(cells to readings and stops). `read_file` joins them.
"""
