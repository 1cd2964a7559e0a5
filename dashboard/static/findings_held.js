// The findings on record as this screen knows them, and the defects by trade name with their drawings.
export const held = { findings: [], defects: [] };
const listeners = [];

export const onFindings = (listener) => listeners.push(listener);

// False where the bench did not answer; what was known stays.
export async function refreshFindings() {
  try {
    if (held.defects.length === 0) held.defects = await look("/api/defects");
    held.findings = await look("/api/findings?limit=200");
  } catch {
    return false;
  }
  for (const listener of listeners) listener();
  return true;
}

async function look(path) {
  const answer = await fetch(path);
  if (!answer.ok) throw new Error(answer.statusText);
  return answer.json();
}

export const defectNamed = (key) => held.defects.find((defect) => defect.key === key) ?? null;
export const drawingOf = (defect) => `data:image/svg+xml,${encodeURIComponent(defect.drawing)}`;
