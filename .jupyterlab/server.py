"""Settings of the course's JupyterLab server: a saved lesson keeps pictures instead of live widgets, a printed one no code."""


def keep_pictures(model, **_):
    """Take out what only a running kernel could show, so that a saved page shows its picture and how to wake it."""
    if model["type"] != "notebook" or not model.get("content"):
        return
    model["content"]["metadata"].pop("widgets", None)
    for cell in model["content"]["cells"]:
        for output in cell.get("outputs", []):
            data = output.get("data", {})
            if "text/html" in data:
                data.pop("application/vnd.jupyter.widget-view+json", None)


c = get_config()  # noqa: F821
c.FileContentsManager.pre_save_hook = keep_pictures
# A page exported or printed is the lesson as one reads it: no code, no numbers of cells.
c.HTMLExporter.exclude_input = True
c.HTMLExporter.exclude_input_prompt = True
c.HTMLExporter.exclude_output_prompt = True
