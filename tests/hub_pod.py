"""The pod that the hub's files ask Kubernetes for, made without a cluster by the hub's own spawner, and held against its schema.

    python tests/hub_pod.py

Needs ``pip install jupyterhub-kubespawner kubernetes-validate`` and PyYAML. ``values.yaml`` says to the chart what
the chart passes on to the spawner; this does the same by the spawner's own names, runs the file's own lines of
configuration, and looks at the pods of a student and of an instructor. What the chart itself adds is not tried.
"""

import asyncio
from pathlib import Path
from types import SimpleNamespace

HUB = Path(__file__).resolve().parent.parent / "data" / "hub"


async def pod_of(name: str, admin: bool) -> dict:
    """Return the pod that the spawner asks for, as Kubernetes is told it."""
    import kubespawner.spawner
    import yaml
    from kubespawner import KubeSpawner
    from traitlets.config import Config

    values = yaml.safe_load((HUB / "values.yaml").read_text("utf-8"))
    told, c = values["singleuser"], Config()
    c.KubeSpawner.environment = dict(told["extraEnv"])
    for lines in values["hub"]["extraConfig"].values():
        exec(lines, {"c": c})  # noqa: S102 - as the hub itself does
    c.KubeSpawner.image = f"{told['image']['name']}:{told['image']['tag']}"
    c.KubeSpawner.mem_limit, c.KubeSpawner.mem_guarantee = told["memory"]["limit"], told["memory"]["guarantee"]
    c.KubeSpawner.cpu_limit, c.KubeSpawner.default_url = told["cpu"]["limit"], told["defaultUrl"]
    store, home = told["storage"], {"name": "home", "persistentVolumeClaim": {"claimName": f"claim-{name}"}}
    c.KubeSpawner.volumes = [home, *store["extraVolumes"]]
    c.KubeSpawner.volume_mounts = [{"name": "home", "mountPath": store["homeMountPath"]}, *store["extraVolumeMounts"]]
    hub = SimpleNamespace(public_host="", url="/hub/", base_url="/hub/", api_url="http://hub:8081/hub/api")
    orm = SimpleNamespace(name=name, admin=admin)
    user = SimpleNamespace(name=name, admin=admin, escaped_name=name, url=f"/user/{name}/", id=1, orm_user=orm)
    kubespawner.spawner.load_config = lambda **where: None  # there is no cluster to be found
    spawner = KubeSpawner(config=c, hub=hub, user=user, _mock=True)
    async with spawner.api.api_client as api:
        return api.sanitize_for_serialization(await spawner.get_pod_manifest())


def main() -> None:
    import kubernetes_validate
    import yaml

    for name, admin in (("kim", False), ("instructor", True)):
        pod = asyncio.run(pod_of(name, admin))
        kubernetes_validate.validate({"apiVersion": "v1", "kind": "Pod", **pod}, "1.31", strict=True)
        (box,) = pod["spec"]["containers"]
        said = {one["name"]: one.get("value") for one in box["env"]}
        assert (said.get("SUSGEO_STUDENT") or "") == ("" if admin else name), said
        assert said["JUPYTER_CONFIG_PATH"] == "/course/data/hub"
        mounts = {one["mountPath"]: one["name"] for one in box["volumeMounts"]}
        assert mounts == {"/srv/student": "home", "/usr/local/share/nbgrader/exchange": "exchange"}
        assert set(mounts.values()) == {one["name"] for one in pod["spec"]["volumes"]}
        print(
            f"{name}: the pod is as Kubernetes 1.31 has it; memory {box['resources']['limits']['memory']} bytes at most"
        )
    kubernetes_validate.validate(yaml.safe_load((HUB / "marking-job.yaml").read_text("utf-8")), "1.31", strict=True)
    print("marking-job.yaml: as Kubernetes 1.31 has it")


if __name__ == "__main__":
    main()
