// A class is led from what is projected, with the key that the leading page has left in this window or gives to it.
import { lead, tell } from "./lead.js";
import { askKey, ledPath } from "./ledkey.js";

function begin() {
  if (ledPath()) lead(ledPath());
  else tell("alone");
}

if (ledPath()) begin();
else askKey(begin);
