"""All addresses and what they tell with ``?format=json``, as OpenAPI: from the views' own types."""

from __future__ import annotations

import warnings
from functools import cache
from typing import Any

from fastapi import FastAPI
from fastapi.responses import JSONResponse

from ratoon.web.shared import get

REF = "#/components/schemas/{model}"


def add_description(app: FastAPI) -> None:
    """The description at ``/openapi.json``, for programs of the mill's own people."""

    @cache
    def made() -> dict[str, Any]:
        from pydantic import TypeAdapter

        with warnings.catch_warnings():  # one view answers GET and HEAD of an address
            warnings.filterwarnings("ignore", "Duplicate Operation ID")
            described = app.openapi()
        kinds = [(at, "serialization", TypeAdapter(kind))
                 for at, kind in app.state.records.items()]  # fmt: skip
        schemas, shared = TypeAdapter.json_schemas(kinds, ref_template=REF)  # type: ignore[arg-type]
        described["components"]["schemas"] |= shared["$defs"]
        for (at, _), schema in schemas.items():
            told = described["paths"][at]["get"]["responses"]["200"]
            told["content"] = {"application/json": {"schema": schema}}
        return described

    @get(app, "/openapi.json")
    def description() -> JSONResponse:
        return JSONResponse(made())
