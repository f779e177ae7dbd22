"""A hub for a class: each student a server of their own, nbgrader's exchange in between.

As it stands it is the configuration of the round trip in ``tests/hub_round_trip.py``: local servers, anybody may log in,
the loopback alone. ``SUSGEO_HUB=containers`` starts each server in a container instead (``pip install dockerspawner``).
Put your institution's authenticator in the place of ``dummy`` before anybody but you can reach it.
"""

import os
from pathlib import Path

c = get_config()  # noqa: F821
HERE = Path(__file__).resolve().parent
EXCHANGE = os.environ.get("SUSGEO_EXCHANGE", "/usr/local/share/nbgrader/exchange")
HOMES = Path(os.environ.get("SUSGEO_HOMES", "/srv/homes"))

c.JupyterHub.bind_url = os.environ.get("SUSGEO_HUB_URL", "http://127.0.0.1:8000")
c.JupyterHub.authenticator_class = "dummy"
c.Authenticator.allow_all = True  # whoever the authenticator knows may use the hub
c.Authenticator.admin_users = {"instructor"}

# nbgrader would name a submission by the system's user; nbgrader_config.py beside this file takes the hub's instead.
c.Spawner.environment = {
    "SUSGEO_STUDENT": lambda spawner: "" if spawner.user.admin else spawner.user.name,
    "JUPYTER_CONFIG_PATH": str(HERE),
    "SUSGEO_EXCHANGE": EXCHANGE,
}
c.Spawner.default_url = "/lab"
c.Spawner.start_timeout = c.Spawner.http_timeout = 300  # a class that logs in all at once waits for its turn
c.Spawner.mem_limit, c.Spawner.cpu_limit = "1G", 1.0  # a lesson takes 375 MB

if os.environ.get("SUSGEO_HUB") == "containers":
    c.JupyterHub.spawner_class = "dockerspawner.DockerSpawner"
    c.JupyterHub.hub_ip = "0.0.0.0"  # the containers call the hub; keep it behind the proxy
    c.DockerSpawner.image = "where-the-lines-meet"
    c.DockerSpawner.notebook_dir = "/srv/student"
    c.DockerSpawner.volumes = {EXCHANGE: EXCHANGE, "home-{username}": "/srv/student"}
    c.DockerSpawner.environment = {**c.Spawner.environment, "JUPYTER_CONFIG_PATH": "/course/data/hub"}
    c.DockerSpawner.remove = True
else:
    c.JupyterHub.spawner_class = "simple"

    def home(spawner):
        """Give each student a folder; on a hub of one system user they could read each other's."""
        folder = HOMES / spawner.user.name
        folder.mkdir(parents=True, exist_ok=True)
        spawner.notebook_dir = str(folder)
        if os.geteuid() == 0:
            spawner.args = ["--allow-root"]

    c.SimpleLocalProcessSpawner.home_dir_template = str(HOMES / "{username}")
    c.Spawner.pre_spawn_hook = home
