"""What an answer does beyond telling its figures: it shows, saves and compares itself."""

from os import PathLike
from typing import TYPE_CHECKING, Any, Protocol, Self

from .base import Output

if TYPE_CHECKING:
    import pandas as pd


class Documents(Protocol):
    """One answer in other forms; whoever reads an answer for a caller knows them."""

    @property
    def request_id(self) -> str:
        """Id under which the service logged the call."""
        ...

    def drawn(self, media_type: str, view: str) -> bytes:
        """A picture, a sheet, a table or a workbook."""
        ...

    def save(self, path: str | PathLike[str], view: str) -> None:
        """Write one to a file."""
        ...

    def differences(self, older: Any, newer: Any) -> str:  # noqa: ANN401 - answers of one kind
        """What changed between two answers, in words."""
        ...


class Documented(Output, dict=True):
    """An answer with its documents, all of the one computation that gave it.

    Documents come with the answers of a client. Embedded, they are drawn from the answer at hand.
    A service sends those named in ``views`` along with the answer; any other is asked for when it
    is wanted, for which the service may have to compute again, and which an `AsyncClient` cannot
    do without being awaited.
    """

    def with_documents(self, documents: Documents) -> Self:
        """The same answer, which from now on shows itself by these documents."""
        vars(self)["documents"] = documents
        return self

    @property
    def _documents(self) -> Documents:
        found: Documents | None = vars(self).get("documents")
        if found is None:
            raise ValueError(
                "This answer was read or changed outside of a client and has no documents; ask for "
                "it again."
            )
        return found

    @property
    def request_id(self) -> str:
        """Id of the call, as in the log of the service."""
        return self._documents.request_id

    def html(self, view: str = "") -> str:
        """The sheet to print: one file that needs nothing else.

        Parameters
        ----------
        view : str
            Which of several; the first that came along, or the usual one, if not given.

        Raises
        ------
        ServiceError
            Status 406: there is none; the detail lists what there is.
        ValueError
            It did not come along, and cannot be asked for here.
        """
        return self.document("text/html", view).decode()

    def svg(self, view: str = "") -> str:
        """A picture; arguments and errors as of `html`."""
        return self.document("image/svg+xml", view).decode()

    def csv(self, view: str = "") -> str:
        """A table, such as a schedule or a curve; arguments and errors as of `html`."""
        return self.document("text/csv", view).decode()

    def document(self, media_type: str, view: str = "") -> bytes:
        """Any of these, or a workbook, by its media type; errors as of `html`."""
        return self._documents.drawn(media_type, view)

    def save(self, path: str | PathLike[str], view: str = "") -> None:
        """Write it to a file; the suffix says how.

        Parameters
        ----------
        path : str or path
            File to write: .json, .svg, .png, .html, .csv, .xlsx or .ods; one that exists is
            replaced. A workbook holds request, checks, every table and the sources, or one table
            where `view` names it.
        view : str
            As in `html`.

        Raises
        ------
        ValueError
            Another suffix, or as in `html`.
        ModuleNotFoundError
            A .png was asked for without the extra `pictures`, or a workbook of the engine in this
            process without the extra `workbook`.
        """
        self._documents.save(path, view)

    def frame(self, part: str = "checks") -> "pd.DataFrame":
        """A list of this answer, or a Struct of equally long lists, as a pandas data frame.

        Parameters
        ----------
        part : str
            Name of the field: ``"checks"``, ``"wire_schedule"``, ``"curve"``.
        """
        from sunhitch.frames import frame

        return frame(getattr(self, part))

    def polars(self, part: str = "checks") -> Any:  # noqa: ANN401 - polars may be absent
        """As `frame`, as a polars.DataFrame."""
        from sunhitch.frames import polars_frame

        return polars_frame(getattr(self, part))
