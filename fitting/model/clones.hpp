// One function, several instruction sets: the program is built for the baseline architecture and
// takes the widest set that the processor has when it starts.
//
// Everything called must be inlined into the function (flatten), since only its own body is
// compiled anew. Under the address or thread sanitizer the choice at start comes too early for its
// run-time library, and only the baseline is built.
#pragma once

#if defined(__x86_64__) && !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define SPRINGWRIGHT_CLONES \
  __attribute__((flatten, target_clones("arch=x86-64-v4", "arch=x86-64-v3", "default")))
#else
#define SPRINGWRIGHT_CLONES
#endif
