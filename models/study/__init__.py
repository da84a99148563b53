"""The study: one question about one robot, read from a file, checked and described."""

from models.study.fields import FieldSpec, field_for
from models.study.numbers import Estimate
from models.study.reader import parse_study, read_document
from models.study.remark import Remark
from models.study.remarks import remarks_on
from models.study.schema import Candidate, Study

__all__ = [
    "Candidate",
    "Estimate",
    "FieldSpec",
    "Remark",
    "Study",
    "field_for",
    "parse_study",
    "read_document",
    "remarks_on",
]
