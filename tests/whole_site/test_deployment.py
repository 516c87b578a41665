"""Units, images and proxy run commands that exist, as nobody in particular, with few rights."""

import configparser
import os
import re
import shlex
import shutil
import subprocess
from pathlib import Path

import pytest
import yaml
from django.core.management import get_commands
from gunicorn.app.wsgiapp import WSGIApplication

from tests.whole_site.test_project_documents import described_variables

DEPLOY = Path(__file__).resolve().parents[2] / "blendshop/deploy"
ROOT = DEPLOY.parents[1]
SERVICES = sorted((DEPLOY / "systemd").glob("*.service"))
TIMERS = sorted((DEPLOY / "systemd").glob("*.timer"))
COMPOSE = yaml.safe_load((DEPLOY / "compose.yaml").read_text())["services"]
OURS = {name: service for name, service in COMPOSE.items() if "blendshop:" in service["image"]}
#: What a service that only answers, writes two folders and sends mail never needs.
HARDENED = {
    "NoNewPrivileges": "yes",
    "CapabilityBoundingSet": "",
    "ProtectSystem": "strict",
    "ProtectHome": "yes",
    "PrivateTmp": "yes",
    "PrivateDevices": "yes",
    "RestrictSUIDSGID": "yes",
    "UMask": "0077",
}


class Unit(configparser.RawConfigParser):
    """A unit file; systemd lets a name come more than once, so values are joined by line."""

    def __init__(self, path):
        super().__init__(strict=False, dict_type=dict, interpolation=None)
        self.optionxform = str
        self.lines = path.read_text().splitlines()
        self.read(path)

    def all(self, name):
        return [line.partition("=")[2] for line in self.lines if line.startswith(f"{name}=")]


def holds(words):
    """That a command line starts something that is there."""
    words = list(words)
    program = Path(words[0]).name
    if program == "python" and words[1] == "manage.py":
        assert words[2] in get_commands()
    elif program == "python":
        assert (ROOT / words[1]).is_file()
    else:
        assert program == "gunicorn"
        config = gunicorn_config(words[1:])
        assert config.worker_class_str == "gthread"
        assert config.control_socket_disable
        assert config.timeout > config.graceful_timeout


def gunicorn_config(words):
    """What the application server makes of its arguments and of our file, or its own refusal."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("sys.argv", ["gunicorn", *words])
        patch.chdir(ROOT)
        return WSGIApplication("%(prog)s [OPTIONS] [APP_MODULE]").cfg


@pytest.mark.parametrize("path", SERVICES, ids=lambda path: path.name)
def test_a_service_is_hardened_and_starts_what_exists(path):
    unit = Unit(path)
    service = unit["Service"]
    assert {name: service.get(name) for name in HARDENED} == HARDENED
    assert service["User"] == "blendshop"
    assert service["EnvironmentFile"] == "/etc/blendshop/blendshop.env"
    assert unit.all("ExecStart")
    for command in unit.all("ExecStart"):
        holds(shlex.split(command))


@pytest.mark.parametrize("path", TIMERS, ids=lambda path: path.name)
def test_a_timer_has_its_service_and_makes_up_for_a_night_that_was_off(path):
    assert path.with_suffix(".service") in SERVICES
    assert Unit(path)["Timer"]["Persistent"] == "yes"


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd-analyze is not installed")
def test_systemd_understands_every_unit(tmp_path):
    for path in (*SERVICES, *TIMERS):
        text = re.sub(
            r"^ExecStart=\S+", "ExecStart=/bin/true", path.read_text(), flags=re.MULTILINE
        )
        (tmp_path / path.name).write_text(text)
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *map(str, tmp_path.iterdir())],
        capture_output=True,
        text=True,
        check=False,
    )
    assert not [
        line for line in done.stderr.splitlines() if str(tmp_path) in line or "blendshop" in line
    ]


@pytest.mark.parametrize("name", COMPOSE)
def test_a_container_is_nobody_with_a_root_it_cannot_write(name):
    service = COMPOSE[name]
    assert service["user"] in {"10001:10001", "postgres"}
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert service["security_opt"] == ["no-new-privileges:true"]


def test_containers_start_what_exists_and_only_the_proxy_is_reached_from_outside():
    for service in OURS.values():
        holds(service.get("command") or image_command("CMD"))
    assert [name for name, service in COMPOSE.items() if "ports" in service] == ["proxy"]
    assert COMPOSE["database"]["networks"] == ["inside"]


def image_command(instruction):
    text = (DEPLOY / "Containerfile").read_text()
    (words,) = re.findall(rf"^{instruction} \[(.*?)\]$", text, flags=re.MULTILINE | re.DOTALL)
    return re.findall(r'"([^"]+)"', words)


def test_the_image_takes_only_what_is_there_and_runs_as_nobody():
    text = (DEPLOY / "Containerfile").read_text()
    assert "--require-hashes" in text
    taken = re.findall(r"^COPY ([a-z]\S*) /", text, flags=re.MULTILINE)
    assert taken
    assert all((ROOT / source).exists() for source in taken)
    last = text.rpartition("FROM ")[2]
    assert re.findall(r"^USER (\S+)", last, flags=re.MULTILINE) == ["10001:10001"]
    holds(image_command("CMD"))


def test_examples_name_variables_that_are_read():
    text = (DEPLOY / "blendshop.env.example").read_text()
    named = set(re.findall(r"^([A-Z_]+)=", text, flags=re.MULTILINE))
    assert {"BLENDSHOP_SECRET_KEY", "BLENDSHOP_ALLOWED_HOSTS", "DATABASE_URL"} <= named
    assert named <= set(described_variables())


@pytest.mark.parametrize("name", ["blendshop.env", "database.env", "tls/privkey.pem", "backups/a"])
def test_secrets_beside_the_compose_file_are_not_committed(name):
    if not (ROOT / ".git").exists():
        pytest.skip("not a git checkout")
    path = f"blendshop/deploy/{name}"
    assert (
        subprocess.run(["git", "check-ignore", "-q", path], cwd=ROOT, check=False).returncode == 0
    )
    kept_out = (DEPLOY / "Containerfile.dockerignore").read_text().splitlines()
    assert any(Path(path).match(line) or path.startswith(f"{line}/") for line in kept_out[2:])


def test_the_proxy_compresses_no_page_and_passes_on_no_claim():
    text = (DEPLOY / "nginx/proxied.conf").read_text()
    outside_locations = re.sub(r"location [^{]+\{[^}]*\}", "", text)
    assert "gzip off;" in outside_locations
    assert "gzip on;" not in outside_locations
    assert "X-Forwarded-For $remote_addr;" in text
    assert "$proxy_add_x_forwarded_for" not in text
    assert (DEPLOY / "nginx/site.conf").read_text().count("return 301 https://") == 1


NGINX = shutil.which("nginx", path=f"{os.environ.get('PATH', '')}:/usr/sbin")


@pytest.mark.skipif(not NGINX, reason="nginx is not installed")
@pytest.mark.parametrize("name", ["container.conf", "site.conf"])
def test_nginx_understands_the_configuration(name, tmp_path):
    key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-subj", "/CN=plant"]
    files = ["-keyout", "privkey.pem", "-out", "fullchain.pem"]
    subprocess.run(
        ["openssl", "req", "-x509", *key, *files], cwd=tmp_path, check=True, capture_output=True
    )
    text = (DEPLOY / "nginx" / name).read_text()
    for here, there in (
        ("/run/nginx", tmp_path),  # the container's own
        ("/etc/blendshop/tls", tmp_path),
        ("/etc/blendshop/nginx", DEPLOY / "nginx"),
        ("/opt/blendshop/current", ROOT),
    ):
        text = text.replace(str(here), str(there))
    # Tests are on loopback and leave the machine's own ports alone.
    text = re.sub(r"listen \[::\].*\n", "", text)
    text = re.sub(
        r"listen (\d+)", lambda found: f"listen 127.0.0.1:{50000 + int(found[1]) % 9000}", text
    )
    if name == "site.conf":
        text = f"pid {tmp_path}/nginx.pid; events {{}} http {{ access_log off; {text} }}"
    (tmp_path / name).write_text(text)
    done = subprocess.run(
        [NGINX, "-t", "-q", "-c", str(tmp_path / name), "-e", str(tmp_path / "error.log")],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
