// What the server is asked. Every answer is {ok, status, data}; a refusal has its plain line in `why`.

export const exam = decodeURIComponent(location.pathname.split("/")[2] ?? "");
const base = `/review/${encodeURIComponent(exam)}`;

async function answer(promise) {
  let response;
  try {
    response = await promise;
  } catch {
    return { ok: false, status: 0, why: "The program does not answer. Is `dictate review` still running? Nothing was lost here." };
  }
  const json = (response.headers.get("Content-Type") ?? "").startsWith("application/json");
  const data = json ? await response.json() : null;
  const why = response.ok ? "" : json ? data.why : (await response.text()).trim();
  return { ok: response.ok, status: response.status, data, why };
}

export const get = (path) => answer(fetch(path));

export const post = (path, value) =>
  answer(fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(value) }));

export const note = () => get(`${base}/note`);
export const card = (key) => get(`${base}/item/${encodeURIComponent(key)}`);
export const act = (what, value) => post(`${base}/${what}`, value);
export const ask = (what) => get(`${base}/${what}`);
export const soundAt = ({ from, to }) => `${base}/sound?from=${from}&to=${to}`;
