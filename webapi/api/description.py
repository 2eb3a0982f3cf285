"""The API's own description: what APIFlask cannot know is added here, and a page shows it without any outside host."""

from typing import Any, Final

from apiflask import APIFlask
from flask import Response, render_template_string
from pydantic.json_schema import models_json_schema

from lifetime.study.schema import Study
from webapi.api.shapes import HistoryOut, Problem

_REF = "#/components/schemas/{model}"
_EXAMPLE: dict[str, Any] = {
    "title": "Yard tractor (invented): who should take the peaks?",
    "service": {"years": 10, "working_days_per_year": 300, "distance_km_per_day": 60, "climate": "temperate"},
    "battery": {
        "cell": "lfp_naumann_2020",
        "series": 180,
        "parallel": 40,
        "start_soc": 0.9,
        "price": {"purchase_per_kWh": 160},
    },
    "cost": {"currency": "EUR", "discount_rate": 0.06, "electricity_per_kWh": 0.2},
    "strategy": [
        {
            "name": "Battery alone",
            "demand": {"file": "ID-OF-AN-UPLOADED-HISTORY", "time": "t_s", "power": "p_dc_W"},
            "split": {"rule": "battery_only"},
        }
    ],
}
_PAGE = """<!DOCTYPE html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>API · packwear</title>
<style>body{font:16px/1.5 system-ui,sans-serif;margin:0 auto;max-width:60rem;padding:1rem;color:#1a1a1a}
h2{overflow-wrap:anywhere;margin:2rem 0 .5rem;border-top:1px solid #bbb;padding-top:1rem}
code,pre{font-family:ui-monospace,monospace}
pre{background:#f3f3f0;padding:.75rem;overflow-x:auto}table{border-collapse:collapse}
td,th{border:1px solid #bbb;padding:.2rem .5rem;text-align:left;vertical-align:top}.box{overflow-x:auto}</style></head>
<body><h1>packwear API {{ spec.info.version }}</h1>
<p>Base path <code>/api/v1</code>. The machine-readable description is <a href="/api/openapi.json">OpenAPI
{{ spec.openapi }}</a>. Send a token as <code>Authorization: Bearer TOKEN</code> where the service asks for one. Every
error is problem details (RFC 9457) and lists all faults of a study at once.</p>
{% for path, methods in spec.paths.items() %}{% for method, one in methods.items() %}
<h2 id="{{ one.operationId }}"><code>{{ method|upper }} {{ path }}</code></h2>
<p>{{ one.summary }}.{% if one.description %} {{ one.description }}{% endif %}</p>
{% if one.parameters %}<div class="box"><table><thead><tr><th scope="col">parameter</th><th scope="col">in</th>
<th scope="col">what</th></tr></thead><tbody>
{% for p in one.parameters %}<tr><td><code>{{ p.name }}</code></td><td>{{ p.in }}</td><td>{{ p.description or
p.schema.description or '' }}</td></tr>{% endfor %}</tbody></table></div>{% endif %}
<p>Answers: {{ one.responses.keys()|join(', ') }}.</p>
{% endfor %}{% endfor %}
<h2>A study</h2><pre>{{ example }}</pre></body></html>"""


def describe(app: APIFlask) -> None:
    """Complete the description and add its page.

    Args:
        app: The application with all its API blueprints.
    """
    app.config["OPENAPI_VERSION"] = "3.1.0"
    app.config["AUTO_404_RESPONSE"] = False
    app.config["VALIDATION_ERROR_STATUS_CODE"] = 400

    @app.spec_processor
    def complete(spec: dict[str, Any] | str) -> dict[str, Any] | str:
        return spec if isinstance(spec, str) else _complete(spec)

    @app.get("/api/docs")
    @app.doc(hide=True)
    def page() -> Response:
        text = render_template_string(_PAGE, spec=app.spec, example=app.json.dumps(_EXAMPLE, indent=2))
        return Response(text, mimetype="text/html")


def _complete(spec: dict[str, Any]) -> dict[str, Any]:
    _, found = models_json_schema([(Study, "validation"), (Problem, "validation")], ref_template=_REF)
    schemas = spec.setdefault("components", {}).setdefault("schemas", {})
    schemas.update(found["$defs"])
    spec["components"]["securitySchemes"] = {"token": {"type": "http", "scheme": "bearer"}}
    spec["security"] = [{"token": []}, {}]
    paths = {path: methods for path, methods in spec["paths"].items() if path.startswith("/api/v1")}
    for methods in paths.values():
        for operation in methods.values():
            _add_problems(operation)
    study = {
        "required": True,
        "content": {"application/json": {"schema": {"$ref": _REF.format(model="Study")}, "example": _EXAMPLE}},
    }
    for path in ("/api/v1/studies", "/api/v1/studies/check"):
        paths[path]["post"]["requestBody"] = study
    paths["/api/v1/studies"]["post"]["responses"]["200"] = paths["/api/v1/studies"]["post"]["responses"]["202"]
    _describe_upload(paths["/api/v1/histories"]["post"], schemas)
    return {**spec, "paths": paths}


def _add_problems(operation: dict[str, Any]) -> None:
    content = {"application/problem+json": {"schema": {"$ref": _REF.format(model="Problem")}}}
    operation["responses"]["default"] = {"description": "Problem details", "content": content}
    for status in [key for key in operation["responses"] if key.startswith(("4", "5"))]:
        operation["responses"][status] = {"description": "Problem details", "content": content}


_LAYOUT: Final[dict[str, dict[str, Any]]] = {
    "sheet": {"description": "sheet of a workbook", "schema": {"type": "string"}},
    "header_row": {
        "description": "row of the column names in a text or a sheet, counted from 1; 0 where there is none",
        "schema": {"type": "integer", "minimum": 0, "maximum": 9_999_999},
    },
    "decimal": {"description": "decimal mark of a text", "schema": {"enum": [".", ","]}},
}


def _describe_upload(operation: dict[str, Any], schemas: dict[str, Any]) -> None:
    _, found = models_json_schema([(HistoryOut, "validation")], ref_template=_REF)
    schemas.update(found["$defs"])
    answer = {"application/json": {"schema": {"$ref": _REF.format(model="HistoryOut")}}}
    operation["requestBody"] = {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {"file": {"type": "string", "format": "binary"}},
                }
            },
            "application/octet-stream": {"schema": {"type": "string", "format": "binary"}},
        },
    }
    operation["parameters"] = [
        {
            "name": "name",
            "in": "query",
            "required": False,
            "description": "the file's name, for a raw body",
            "schema": {"type": "string"},
        },
        *({"name": name, "in": "query", "required": False, **more} for name, more in _LAYOUT.items()),
    ]
    operation["responses"]["201"] = {"description": "Stored", "content": answer}
    operation["responses"]["200"] = {"description": "Was stored already", "content": answer}
