"""What does it cost beside other ways of doing it? Every ratio beside its goal; judges nobody.

`python -m studies.bench` prints the table. The tests assert no time: a busy machine would fail
them.
"""
