"""Documents for people: desk results become a document, and a document a file.

`document` says what a document is; `hold_list`, `job_record` and their like make one; `pdf`,
`html`, `xlsx` and `csv` give it a form; `writing` puts it where it was asked for. All wording
stands in `wording` and `wording_of_records`, all formats in `cells`.
"""
