// Checks certificates as grader/signing/credentials.py and grader/certificates/certificates.py sign them.
"use strict";
(() => {
const SCHOOL = JSON.parse(document.getElementById("school").textContent);
const DIGITS = "123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz";
const LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
const MOST_BYTES = 20_000_000;
const utf8 = (text) => new TextEncoder().encode(text);
const find = (selector) => document.querySelector(selector);

class Fault extends Error {}

// JSON in the canonical form of RFC 8785; of numbers only whole ones.
function canonical(data) {
  if (data === null || typeof data === "boolean" || Number.isSafeInteger(data)) return String(data);
  if (typeof data === "string") return JSON.stringify(data);
  if (Array.isArray(data)) return `[${data.map(canonical).join(",")}]`;
  if (typeof data !== "object") throw new Fault("no place in a certificate");
  return `{${Object.keys(data).sort().map((name) => `${JSON.stringify(name)}:${canonical(data[name])}`).join(",")}}`;
}

const digest = (data) => noble.sha256(utf8(canonical(data)));

// The bytes of a multibase text in base58btc.
function bytesOf(text) {
  if (typeof text !== "string" || text.length > 200 || !/^z[1-9A-HJ-NP-Za-km-z]+$/.test(text)) throw new Fault("not base58");
  let number = 0n;
  for (const letter of text.slice(1)) number = number * 58n + BigInt(DIGITS.indexOf(letter));
  const hex = number === 0n ? "" : number.toString(16);
  const bytes = (hex.length % 2 ? `0${hex}` : hex).match(/../g) ?? [];
  return Uint8Array.from([...Array(/^1*/.exec(text.slice(1))[0].length).fill(0), ...bytes.map((pair) => parseInt(pair, 16))]);
}

// Behind two bytes that name the kind of key.
const KEY = bytesOf(SCHOOL.did.replace("did:key:", "")).slice(2);

async function isSigned(signature, message) {
  if (signature.length !== 64) return false;
  try {
    const key = await crypto.subtle.importKey("raw", KEY, { name: "Ed25519" }, false, ["verify"]);
    return await crypto.subtle.verify({ name: "Ed25519" }, key, signature, message);
  } catch {
    return noble.signed(signature, message, KEY); // a browser that does not know Ed25519
  }
}

// Empty where the credential is as the school signed it, else what is wrong.
async function faultOf(credential) {
  const altered = "It was altered after it was signed.";
  try {
    const { proof: proofs, ...document } = credential;
    if (Array.isArray(proofs) && proofs.length !== 1) return altered;
    const proof = Array.isArray(proofs) ? proofs[0] : proofs;
    const [signer, key] = proof.verificationMethod.split("#");
    if (key !== SCHOOL.did.replace("did:key:", "")) return "It is signed with another key than this school’s: another school’s, or forged.";
    if (proof.type !== "DataIntegrityProof" || proof.cryptosuite !== "eddsa-jcs-2022" || proof.proofPurpose !== "assertionMethod") return altered;
    if ("@context" in proof) {
      if (canonical(document["@context"].slice(0, proof["@context"].length)) !== canonical(proof["@context"])) return altered;
      document["@context"] = proof["@context"];
    }
    const { proofValue, ...bare } = proof;
    const hashed = Uint8Array.from([...digest(bare), ...digest(document)]);
    if (!(await isSigned(bytesOf(proofValue), hashed))) return altered;
    const issuer = typeof document.issuer === "string" ? document.issuer : document.issuer.id;
    return signer === SCHOOL.did && issuer === signer ? "" : "The issuer that it names is not who signed it.";
  } catch {
    return altered;
  }
}

// Whether the page around the credential is as it was issued.
async function isWholePage(bytes) {
  const page = Array.from(bytes, (byte) => String.fromCharCode(byte)).join("").replaceAll("\r\n", "\n");
  const mark = /(<meta name="page-signature" content=")([^"]*)(">)/;
  const found = mark.exec(page);
  const signed = "pitside certificate page\n" + page.replace(mark, "$1$3");
  try {
    return found !== null && (await isSigned(bytesOf(found[2]), Uint8Array.from(signed, (letter) => letter.charCodeAt(0))));
  } catch {
    return false;
  }
}

// The check code: the first fifty bits of the credential's digest, in letters.
function codeOf(credential) {
  let bits = "";
  for (const byte of digest(credential).slice(0, 7)) bits += byte.toString(2).padStart(8, "0");
  const letters = bits.match(/.{5}/g).slice(0, 10).map((five) => LETTERS[parseInt(five, 2)]).join("");
  return `${letters.slice(0, 5)}-${letters.slice(5)}`;
}

function day(stamp) {
  const [, year, month, number] = /^(\d{4})-(\d{2})-(\d{2})/.exec(stamp);
  return `${Number(number)} ${MONTHS[Number(month) - 1]} ${year}`;
}

function shownOf(credential) {
  const subject = credential.credentialSubject;
  const who = Object.fromEntries(subject.identifier.map((one) => [one.identityType, one.identityHash]));
  const names = Object.fromEntries(subject.achievement.resultDescription.map((one) => [one.id, one.name]));
  const outcomes = (is) => subject.result.filter((one) => (one.status === "Completed") === is).map((one) => names[one.resultDescription]);
  const assessed = Object.keys(names).length;
  return {
    logo: credential.issuer.image?.id ?? "",
    name: who.name,
    serial: subject.licenseNumber,
    lines: [
      ["Name", who.name],
      ["Candidate’s id", who.systemId],
      ["School", credential.issuer.name],
      ["Certificate", subject.licenseNumber],
      ["Check code", codeOf(credential)],
      ["Assessed in", subject.achievement.name],
      ["Days", `${day(subject.activityStartDate)} to ${day(subject.activityEndDate)}`],
      ["Issued", day(credential.validFrom)],
      ...(subject.source ? [["Assessor", subject.source.name]] : []),
    ],
    lists: [
      [`Assessed and shown: ${outcomes(true).length} of ${assessed} outcomes`, outcomes(true)],
      ["Assessed and not shown", outcomes(false)],
      ["How it was assessed", subject.achievement.criteria.narrative.split("\n\n")],
    ],
  };
}

// Why a file holds no certificate at all, by how it begins.
function notOne(bytes) {
  const head = String.fromCharCode(...bytes.slice(0, 8));
  const photo = head.startsWith("\xff\xd8") || head.startsWith("\x89PNG") || head.slice(4).startsWith("ftyp");
  const kind = head.startsWith("%PDF") ? "This is a PDF." : photo ? "This is a picture." : head.startsWith("PK") ? "This is a zip file or an office document." : "";
  if (kind) return `${kind} A certificate can be checked by its own file only: ask the holder for the file whose name ends in .html or .json.`;
  return "This is no certificate of a school, or a damaged one. Ask the holder for the file again, as it was issued.";
}

async function look(file) {
  if (file.size > MOST_BYTES) return { fault: "This file is too large for a certificate." };
  const bytes = new Uint8Array(await file.arrayBuffer());
  let credential, shown, isPage;
  try {
    const text = new TextDecoder("utf-8", { fatal: true }).decode(bytes);
    isPage = !text.trimStart().startsWith("{");
    const data = isPage ? /<script type="application\/json" id="credential">(.*?)<\/script>/s.exec(text)[1] : text;
    credential = JSON.parse(data);
    shown = shownOf(credential);
  } catch {
    return { fault: notOne(bytes) };
  }
  const fault = await faultOf(credential);
  if (fault) return { fault: `Do not rely on this file. ${fault}` };
  const revoked = SCHOOL.revoked.find((one) => one.serial === shown.serial);
  if (revoked) return { fault: `This certificate was genuine, but the school revoked it on ${revoked.on}.`, shown };
  if (isPage && !(await isWholePage(bytes))) {
    return { fault: "The page was altered, or saved anew by a browser. What the school signed is still in it and stands below: rely on that alone, or ask for the file as it was issued.", shown };
  }
  return { genuine: `Genuine: the file is as the school signed it, and up to ${SCHOOL.made} it was not revoked.`, shown };
}

// What the square of a print says, where the school signed it; else what is wrong.
async function lookAtSquare(text) {
  const words = text.normalize("NFC").replace(/\s+/g, " ").trim();
  const parts = words.split(" | ");
  if (parts.length !== 8) {
    const older = /^(\S+) ([A-Z2-7]{5}-[A-Z2-7]{5})$/.exec(words);
    if (!older) return { fault: "This is not the text of a certificate’s square, or not all of it. Copy the whole text." };
    return { fault: "The square of this certificate holds number and check code alone: type them below, and the name." };
  }
  const [serial, code, name, id, days, outcomes, issued, signature] = parts;
  let signed = false;
  try {
    signed = await isSigned(bytesOf(signature), utf8(`pitside certificate print\n${parts.slice(0, 7).join(" | ")}`));
  } catch { /* it is no signature */ }
  if (!signed) return { fault: "Do not rely on this print. Its square was not signed by this school, or a letter was lost in copying: copy it again." };
  const lines = [["Name", name], ["Candidate’s id", id], ["Certificate", serial], ["Check code", code], ["Days", dayed(days)], ["Outcomes", outcomes], ["Issued", dayed(issued.replace(/^issued /, ""))]];
  const shown = { logo: "", lines, lists: [] };
  return { shown, ...revokedOr(serial, `The school signed the words below, and up to ${SCHOOL.made} the certificate was not revoked. Hold each of them against the paper.`) };
}

// What is known of a print by its number, check code and name.
function lookAtTyped(serial, code, name) {
  const letters = code.toUpperCase().replace(/0/g, "O").replace(/1/g, "I").replace(/8/g, "B").replace(/[^A-Z2-7]/g, "");
  const plain = name.normalize("NFKD").toLowerCase().replace(/[^\p{L}\p{N}]/gu, "");
  const number = serial.trim().toLowerCase();
  const tag = noble.sha256(utf8(`${number}|${letters.slice(0, 5)}-${letters.slice(5)}|${plain}`));
  const issued = SCHOOL.prints[Array.from(tag, (byte) => byte.toString(16).padStart(2, "0")).join("")];
  if (!issued) return { fault: `Up to ${SCHOOL.made} the school issued no certificate with this number, check code and name together. Look at each letter again; if they are right, ask the school.` };
  return revokedOr(number, `On ${issued} the school issued a certificate with this number, check code and name, and up to ${SCHOOL.made} it was not revoked. What else stands on the paper this does not show.`);
}

function revokedOr(serial, genuine) {
  const revoked = SCHOOL.revoked.find((one) => one.serial === serial);
  return revoked ? { fault: `This certificate was genuine, but the school revoked it on ${revoked.on}.` } : { genuine };
}

function dayed(text) {
  return text.split(" to ").map(day).join(" to ");
}

function element(tag, text = "", attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = text;
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

function article(file, { genuine, fault, shown }) {
  const made = element("section", "", { class: "found", "data-file": "" });
  made.append(element("h2", file.name), element("p", genuine ?? fault, { class: genuine ? "verdict" : "verdict bad", ...(genuine && { "data-genuine": "" }) }));
  if (!shown) return made;
  if (/^data:image\/(png|jpeg|svg\+xml);base64,/.test(shown.logo)) made.append(element("img", "", { class: "logo", src: shown.logo, alt: "" }));
  const list = element("dl");
  for (const [what, said] of shown.lines) {
    const value = element("dd");
    value.append(element("bdi", said));
    list.append(element("dt", what), value);
  }
  made.append(list);
  for (const [heading, texts] of shown.lists.filter(([, each]) => each.length)) {
    const items = element("ul");
    items.append(...texts.map((text) => element("li", text)));
    made.append(element("h3", heading), items);
  }
  return made;
}

async function check(files) {
  const found = find("[data-found]");
  found.replaceChildren();
  let genuine = 0;
  for (const file of files) {
    const result = await look(file).catch(() => ({ fault: "This file could not be read. Copy it to this computer first." }));
    if (result.genuine) genuine += 1;
    found.append(article(file, result));
  }
  find("[data-said]").textContent = files.length === 1 ? found.querySelector(".verdict").textContent : `${genuine} of ${files.length} files are genuine.`;
}

find("[data-print]").addEventListener("submit", async (event) => {
  event.preventDefault();
  const [square, serial, code, name] = ["#square", "#serial", "#code", "#name"].map((id) => find(id).value);
  const all = serial.trim() && code.trim() && name.trim();
  const found = find("[data-found]");
  found.replaceChildren();
  if (!square.trim() && !all) {
    find("[data-said]").textContent = "Copy the text of the square, or type number, check code and name, all three.";
    return;
  }
  const result = square.trim() ? await lookAtSquare(square) : lookAtTyped(serial, code, name);
  found.append(article({ name: "The printed certificate" }, result));
  find("[data-said]").textContent = found.querySelector(".verdict").textContent;
});

const chooser = find("#files");
chooser.addEventListener("change", () => chooser.files.length && check([...chooser.files]));
const area = find("[data-choose]");
document.addEventListener("dragover", (event) => {
  event.preventDefault();
  area.classList.add("over");
});
document.addEventListener("dragleave", () => area.classList.remove("over"));
document.addEventListener("drop", (event) => {
  event.preventDefault();
  area.classList.remove("over");
  if (event.dataTransfer.files.length) check([...event.dataTransfer.files]);
});
})();
