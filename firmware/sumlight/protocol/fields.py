"""Types of the fields that commands and run parameters have, and what is said of a value that does not fit. Pure."""

from typing import Annotated

from annotated_types import Ge, Le, MaxLen
from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, Strict
from pydantic_core import ErrorDetails

from sumlight.bounds import bounds_of, choices_of
from sumlight.protocol import amounts
from sumlight.text.message import Message, as_written, say

LONGEST_NOTE = 1500
"""Characters of a note or a result: both together fit into a line in any European language, breaks included."""

LARGEST = 1e12
LARGEST_ID = 2**53 - 1
"""The largest whole number that is safe in JSON (RFC 8259 §6); SQLite would fail on one beyond 64 bits."""

MOST_NUMBERS = 200


def _stripped(text: str) -> str:
    return text.strip()


def _whole(value: object) -> object:
    """A float without a fraction counts as a whole number: some clients have no other kind."""
    return int(value) if isinstance(value, float) and value.is_integer() else value


StripSpace = AfterValidator(_stripped)
Whole = BeforeValidator(_whole)

Word = Annotated[str, Strict(), MaxLen(20), StripSpace]
Text = Annotated[str, Strict(), MaxLen(60), StripSpace]
RecipeName = Annotated[str, Strict(), MaxLen(64), StripSpace]
LongText = Annotated[str, Strict(), MaxLen(200), StripSpace]
Reason = Annotated[str, Strict(), MaxLen(500), StripSpace]
Note = Annotated[str, Strict(), MaxLen(LONGEST_NOTE), StripSpace]

Number = Annotated[float, Strict(), Ge(-LARGEST), Le(LARGEST)]
WholeNumber = Annotated[int, Whole, Strict(), Ge(-LARGEST), Le(LARGEST)]
Identity = Annotated[int, Whole, Strict(), Ge(1), Le(LARGEST_ID)]
Numbers = Annotated[
    tuple[Number, ...], MaxLen(MOST_NUMBERS), Field(description=say("list_of_numbers", most=MOST_NUMBERS))
]
Flag = Annotated[bool, Strict()]

Hours = Annotated[amounts.Hours, Strict()]
Dose = Annotated[amounts.Dose, Strict()]
Irradiance = Annotated[amounts.Irradiance, Strict()]
Share = Annotated[amounts.Share, Strict()]
TargetStep = Annotated[int, Whole, Strict(), Ge(2), Le(20)]


def words(model: type[BaseModel], error: ErrorDetails) -> Message:
    """What is wrong with the value of a field, what it is and what is allowed.

    The description of a field that is more than one word or number says what is allowed.
    """
    field, known = str(error["loc"][0]), bounds_of(model, str(error["loc"][0]))
    described = model.model_fields[field].description
    if described is not None:
        return say("field_must_be", field=field, what=as_written(described))
    if known.low is not None and known.high is not None and len(error["loc"]) == 1:
        told = _out_of_bounds(field, error, known.low, known.high)
        if told is not None:
            return told
    return _unfit(model, field, error)


def _out_of_bounds(field: str, error: ErrorDetails, low: float, high: float) -> Message | None:
    match error["type"]:
        case "missing" if abs(low) < LARGEST:
            return say("field_missing_between", field=field, low=low, high=high)
        case "greater_than_equal" | "less_than_equal" if high < LARGEST:
            return say("field_out_of_bounds", field=field, given=_short(error["input"]), low=low, high=high)
        case "greater_than_equal" | "less_than_equal":
            return say("field_no_identity", field=field) if low == 1 else say("field_not_a_number", field=field)
    return None


def _unfit(model: type[BaseModel], field: str, error: ErrorDetails) -> Message:
    given = error["input"]
    match error["type"]:
        case "missing":
            return say("field_missing", field=field)
        case "int_type" | "int_from_float" | "int_parsing_size":
            return say("field_not_whole", field=field, given=_short(given))
        case "bool_type":
            return say("field_not_a_flag", field=field)
        case "string_unicode":
            return say("field_half_character", field=field)
        case "string_too_long":
            return say("field_too_long", field=field, length=len(given), most=error["ctx"]["max_length"])
        case "string_type":
            return say("field_not_text", field=field)
        case "literal_error":
            choices = [str(each) for each in choices_of(model, field) if each]
            return say("field_not_one_of", field=field, choices=choices, given=_short(given))
        case "float_type" | "finite_number":
            return say("field_not_a_number", field=field)
        case "dict_type":
            return say("field_not_an_object", field=field)
    return say("field_does_not_fit", field=field, why=as_written(f"{error['msg'][0].lower()}{error['msg'][1:]}"))


def _short(value: object) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return text if len(text) <= 40 else text[:39] + "…"
