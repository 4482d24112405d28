"""An exposure from plan to done: pure state machines that are told what happens and say what is to be lit."""
