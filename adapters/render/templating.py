"""Fill the templates of pages: what stands in a value is text, and never becomes markup."""

from __future__ import annotations

from functools import cache

from jinja2 import BaseLoader, Environment, PackageLoader, PrefixLoader, StrictUndefined


def html_environment(loader: BaseLoader) -> Environment:
    """Prepare templates of pages: every value is escaped, and one that is missing is an error."""
    return Environment(
        loader=loader,
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


@cache
def _environment() -> Environment:
    folders = ("templates", "vendor")
    return html_environment(
        PrefixLoader({one: PackageLoader("adapters.render", one) for one in folders})
    )


def fill_template(name: str, values: dict[str, object]) -> str:
    """Fill a template of the folder `templates`; a value that it names must be there."""
    return _environment().get_template(f"templates/{name}").render(values)


def bundled_text(name: str) -> str:
    """Give a file of the folders `templates` or `vendor` as it is: a style sheet, a script."""
    environment = _environment()
    assert environment.loader is not None  # noqa: S101 - it was made with one
    return environment.loader.get_source(environment, name)[0]
