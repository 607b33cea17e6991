/* A C trial on the simulated Cortex-M0: characters and the end by semihosting, the smallest start-up. */
#include <stdint.h>
static inline void call_host(uint32_t operation, const void *argument)
{
    register uint32_t r0 __asm__("r0") = operation;
    register const void *r1 __asm__("r1") = argument;
    __asm__ volatile("bkpt 0xab" : "+r"(r0) : "r"(r1) : "memory");
}
static inline void put(char character) { call_host(3, &character); }
#define PUT(character) put(character)
#define END() call_host(0x18, (const void *)0x20026); return 0
#ifdef TRIAL
int main(void);
extern uint32_t __stack_top;
void start(void);
/* Every static of a trial is assigned before it is read, so RAM needs no preparation. */
void start(void)
{
    main();
    for (;;) { }
}
__attribute__((section(".vectors"), used)) static const struct {
    const void *stack;
    void (*reset)(void);
} vectors = { &__stack_top, start };
#endif
