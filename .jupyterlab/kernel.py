"""Runs when a kernel of the course starts: a cell run too early, or a broken line, gets one sentence to act on."""

from IPython import get_ipython

from susgeo.errors import SusgeoError


def one_sentence(shell, kind, error, trace, tb_offset=None):
    if isinstance(error, SyntaxError):
        words = (
            f"Line {error.lineno} of this cell cannot be read by Python ({error.msg}), so nothing was run. "
            "Undo the change with Ctrl+Z, or compare with the lesson as it came."
        )
    elif isinstance(error, NameError):
        words = (
            f"The page is not awake yet: {error.name or 'a name'} is not known here. "
            "Press the double arrow at the top; it runs all cells in order. Your answers are kept."
        )
    else:
        own = getattr(error, "_render_traceback_", None)
        words = "\n".join(own()) if own is not None else str(error)
    shell._showtraceback(kind, words, [words])


shell = get_ipython()
if shell is not None:
    shell.set_custom_exc((NameError, SyntaxError, SusgeoError), one_sentence)
del shell
