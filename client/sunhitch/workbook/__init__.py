"""A workbook that sizes a small build through the service's quick questions.

``small-build.xlsx`` and ``small-build.ods`` beside this module are ready to open; for the address
of a service of your own, change the address on the sheet, or build them again:
``python -m sunhitch.workbook small-build.ods --service http://127.0.0.1:8000``.
"""
