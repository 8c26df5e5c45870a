"""Every parser that meets outside bytes, as one function of bytes.

`targets` names them, `python -m tests.fuzz` runs them under a fuzzer, `seeds/` holds small good
inputs to start from, `findings/` what once broke one; `test_seeds.py` runs both in every test run,
`test_hostile_bytes.py` runs generated nastiness within bounds of time and memory.
"""
