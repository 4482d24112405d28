// The traveller's one button.
const button = document.getElementById("print");
button.hidden = false;
button.addEventListener("click", () => print());
