"""Types of the fields that commands and run parameters have, and what is said of a value that does not fit. Pure."""

from typing import Annotated

from annotated_types import Ge, Le, MaxLen
from pydantic import AfterValidator, BaseModel, BeforeValidator, Field, Strict
from pydantic_core import ErrorDetails

from sumlight.bounds import bounds_of
from sumlight.protocol import amounts

LONGEST_NOTE = 1500
"""Characters of a note or a result: both together fit into a line in any European language, breaks included."""

LARGEST = 1e12
LARGEST_ID = 2**53 - 1
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
LongText = Annotated[str, Strict(), MaxLen(200), StripSpace]
Reason = Annotated[str, Strict(), MaxLen(500), StripSpace]
Note = Annotated[str, Strict(), MaxLen(LONGEST_NOTE), StripSpace]

Number = Annotated[float, Strict(), Ge(-LARGEST), Le(LARGEST)]
WholeNumber = Annotated[int, Whole, Strict(), Ge(-LARGEST), Le(LARGEST)]
Identity = Annotated[int, Whole, Strict(), Ge(1), Le(LARGEST_ID)]
Numbers = Annotated[
    tuple[Number, ...], MaxLen(MOST_NUMBERS), Field(description=f"a list of at most {MOST_NUMBERS} numbers")
]
Flag = Annotated[bool, Strict()]

Hours = Annotated[amounts.Hours, Strict()]
Dose = Annotated[amounts.Dose, Strict()]
Irradiance = Annotated[amounts.Irradiance, Strict()]
Share = Annotated[amounts.Share, Strict()]
TargetStep = Annotated[int, Whole, Strict(), Ge(2), Le(20)]


def words(model: type[BaseModel], error: ErrorDetails) -> str:
    """What is wrong with the value of a field, what it is and what is allowed.

    The description of a field that is more than one word or number says what is allowed.
    """
    name, wrong, given = str(error["loc"][0]), error["type"], error["input"]
    known = bounds_of(model, name)
    between = None if known.low is None or known.high is None else (known.low, known.high)
    allowed = "" if between is None else f"it must lie between {between[0]:g} and {between[1]:g}"
    described = model.model_fields[name].description
    if described is not None and (wrong != "missing" or len(error["loc"]) > 1):
        return f"'{name}' must be {described}"
    match wrong:
        case "missing" if between is not None and abs(between[0]) < LARGEST:
            return f"'{name}' is missing; {allowed}"
        case "missing":
            return f"'{name}' is missing"
        case "greater_than_equal" | "less_than_equal" if between is not None and len(error["loc"]) == 1:
            if between[1] >= LARGEST:
                return f"'{name}' must be a {'whole number from 1' if between[0] == 1 else 'number'}"
            return f"'{name}' is {_short(given)}; {allowed}"
        case "int_type" | "int_from_float" | "int_parsing_size":
            return f"'{name}' must be a whole number, not {_short(given)}"
        case "bool_type":
            return f"'{name}' must be true or false"
        case "string_unicode":
            return f"'{name}' holds half of a character"
        case "string_too_long":
            return f"'{name}' has {len(given)} characters; at most {error['ctx']['max_length']}"
        case "string_type":
            return f"'{name}' must be text"
        case "literal_error":
            return f"'{name}' must be {error['ctx']['expected'].replace(chr(39), '')}, not {_short(given)}"
        case "float_type" | "finite_number":
            return f"'{name}' must be a number"
        case "dict_type":
            return f"'{name}' must be an object of names and values"
    return f"'{name}': {error['msg'][0].lower()}{error['msg'][1:]}"


def _short(value: object) -> str:
    text = f"{value:g}" if isinstance(value, float) else str(value)
    return text if len(text) <= 40 else text[:39] + "…"
