"""`qc serve` alone, so that a browser test does not depend on the other commands."""

import typer

from qc.cli import serve

app = typer.Typer()
app.callback()(lambda: None)
serve.register(app)

if __name__ == "__main__":
    app()
