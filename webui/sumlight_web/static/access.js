// The address that the box prints carries the set-up code behind a #, where no server ever sees it. Put it into the
// form and take it out of the address bar, so that it is not looked over, copied or kept.

function takeCode() {
  const found = /^#code=([A-Za-z0-9-]{1,40})$/.exec(location.hash);
  if (!found) return;
  history.replaceState(null, "", location.pathname + location.search);
  const code = document.getElementById("f-code");
  if (!code) return;
  code.value = found[1];
  document.getElementById("f-name").focus();
}

takeCode();
addEventListener("hashchange", takeCode);
