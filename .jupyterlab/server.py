"""Settings of the course's JupyterLab server: a saved lesson keeps pictures, and no numbers of live widgets."""


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
