"""Hostile files by mutation from good ones: what each tries, and the step that must refuse it.

`families.all_attacks` yields them, `test_attacks` runs them, `python -m tests.attacks.table`
counts them, `python -m tests.attacks.corpus FOLDER` writes them as files for other readers.
"""
