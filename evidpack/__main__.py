"""``python -m evidpack`` does what the ``evidpack`` command does."""

from evidpack.cli.main import main

main()
