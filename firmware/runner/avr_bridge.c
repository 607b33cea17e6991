/* Runs an AVR image at full speed with its first serial port on standard input and output.
 *
 *     cc -O2 avr_bridge.c -o avr_bridge -I/usr/include/simavr -lsimavr
 *     avr_bridge IMAGE
 */
#include <poll.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>
#include "sim_avr.h"
#include "sim_elf.h"
#include "avr_uart.h"

/* Cycles of the simulated chip between two looks at standard input. */
#define LOOK_EVERY 64

static avr_irq_t *receiver;
static int ready = 1;

static void sent(avr_irq_t *irq, uint32_t value, void *unused)
{
    unsigned char byte = (unsigned char)value;
    (void)irq;
    (void)unused;
    if (write(1, &byte, 1) != 1) _exit(0);
}
static void may_send(avr_irq_t *irq, uint32_t value, void *unused)
{
    (void)irq; (void)value; (void)unused;
    ready = 1;
}
static void must_wait(avr_irq_t *irq, uint32_t value, void *unused)
{
    (void)irq; (void)value; (void)unused;
    ready = 0;
}

int main(int count, char **arguments)
{
    elf_firmware_t image;
    avr_t *chip;
    uint32_t flags = 0;
    unsigned long n;
    memset(&image, 0, sizeof image);
    if (count != 2 || elf_read_firmware(arguments[1], &image) != 0) return 2;
    chip = avr_make_mcu_by_name("atmega328p");
    if (!chip) return 2;
    avr_init(chip);
    chip->frequency = 16000000;
    avr_load_firmware(chip, &image);
    avr_ioctl(chip, AVR_IOCTL_UART_GET_FLAGS('0'), &flags);
    flags &= ~(uint32_t)(AVR_UART_FLAG_STDIO | AVR_UART_FLAG_POLL_SLEEP);
    avr_ioctl(chip, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
    receiver = avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), sent, NULL);
    avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUT_XON), may_send, NULL);
    avr_irq_register_notify(avr_io_getirq(chip, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUT_XOFF), must_wait, NULL);
    for (n = 0;; n++) {
        int state = avr_run(chip);
        if (state == cpu_Done || state == cpu_Crashed) return state == cpu_Crashed;
        if (ready && n % LOOK_EVERY == 0) {
            struct pollfd input = { 0, POLLIN, 0 };
            if (poll(&input, 1, 0) > 0) {
                unsigned char byte;
                if (read(0, &byte, 1) != 1) return 0;
                avr_raise_irq(receiver, byte);
            }
        }
    }
}
