"""What every command has in common. Pure."""

from pydantic import BaseModel, ConfigDict

TERMINAL = "terminal"
"""Who acts where nobody is named: the command line, at which the socket's group decides."""


class Command(BaseModel):
    """What every command is: fields of its own and no others, never changed after it came in."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)
