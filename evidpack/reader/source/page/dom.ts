// Elements, made without a framework: `el("p", { class: "quiet" }, "text", child)`.

type Child = Node | string | null | false;
type Value = string | number | boolean | null | undefined | ((event: never) => void);

const SVG = "http://www.w3.org/2000/svg";

/** An HTML element. A function is a listener by its event's name; true sets an empty attribute. */
export function el<Tag extends keyof HTMLElementTagNameMap>(
  tag: Tag, attributes: Record<string, Value> = {}, ...children: Child[]
): HTMLElementTagNameMap[Tag] {
  return furnish(document.createElement(tag), attributes, children);
}

/** An SVG element. */
export function svg<Tag extends keyof SVGElementTagNameMap>(
  tag: Tag, attributes: Record<string, Value> = {}, ...children: Child[]
): SVGElementTagNameMap[Tag] {
  return furnish(document.createElementNS(SVG, tag), attributes, children);
}

function furnish<T extends Element>(element: T, attributes: Record<string, Value>, children: Child[]): T {
  for (const [name, value] of Object.entries(attributes)) {
    if (typeof value === "function") element.addEventListener(name, value as EventListener);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) {
      element.setAttribute(name, String(value));
    }
  }
  for (const child of children) if (child !== null && child !== false) element.append(child);
  return element;
}

let counter = 0;
/** An identifier that is not in use yet. */
export const freshId = (): string => `part-${++counter}`;

/** Words from the file: control and direction characters are shown as escapes. */
export function shown(text: string): string {
  return text.replace(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu, (mark) => {
    const point = (mark.codePointAt(0) as number).toString(16).padStart(4, "0");
    return mark === "\n" ? " " : `\\u${point}`;
  });
}

/** Hand a file to the person's own folder for downloads. */
export function save(name: string, blob: Blob): void {
  const url = URL.createObjectURL(blob);
  const link = el("a", { href: url, download: name, hidden: true });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(url), 60_000);
}
