// What the scripts of the page take for granted; for type checking in .ci/run only.

// An element that a script asks for by its name in the template is of the kind it is used as.
interface EventTarget {
  value: any; dataset: any; elements: any; name: any; type: any; form: any; method: any; src: any;
  disabled: any; checked: any; hidden: any; open: any; content: any; selectedOptions: any; timer: any;
  action: any; closest: any; matches: any; focus: any; select: any;
}
interface Array<T> { indexOf(one: any): number; }

// Younger than the checker's own library.
interface Element { checkVisibility(): boolean; }
interface Window { cookieStore: any; }

// The worker: its events, and what the server hands it in front of its text.
interface Event {
  key: string; request: Request;
  waitUntil(work: Promise<any>): void; respondWith(answer: Promise<Response>): void;
}
declare function skipWaiting(): Promise<void>;
declare const clients: any;
declare const FILES: string[];
declare const VERSION: string;
