// The key of a class, which one window of a browser keeps for as long as it is open: so nothing that is projected has it.
const ASKED = 1500; // ms that another window has to answer

const byId = (id) => document.getElementById(id);
const name = () => `lightgap.lead.${byId("class").dataset.code}`;

export function keepKey(key) {
  try {
    sessionStorage.setItem(name(), key);
  } catch {
    // a browser that keeps nothing leads from the leading page alone
  }
}

function keptKey() {
  try {
    return sessionStorage.getItem(name());
  } catch {
    return null;
  }
}

// The path of who leads the class of this page; undefined where nobody does from here.
export function ledPath() {
  const key = byId("class") && keptKey();
  return key ? `${byId("class").dataset.path}/lead/${key}` : undefined;
}

// A projector that was opened in a window of its own has to ask the leading page.
export function answerKey(key) {
  const channel = new BroadcastChannel(name());
  channel.onmessage = ({ data }) => {
    if (data === "key?") channel.postMessage({ key });
  };
}

export function askKey(then) {
  const channel = new BroadcastChannel(name());
  const done = () => {
    channel.close();
    then();
  };
  const late = setTimeout(done, ASKED);
  channel.onmessage = ({ data }) => {
    if (!data.key) return;
    clearTimeout(late);
    keepKey(data.key);
    done();
  };
  channel.postMessage("key?");
}
