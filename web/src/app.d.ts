/// <reference types="svelte" />
