# O que as pessoas leem numa sala, em português europeu. As mesmas linhas que em en.ftl.

## What is to be done, where the room file does not say it in its own words

task-take_off = Por favor, retire os painéis do ecrã.
task-sides = Por favor, coloque os painéis nos lados do ecrã.
task-top_and_bottom = Por favor, coloque os painéis na parte de cima e na de baixo do ecrã.

## What a prompt says at each of its stages

prompt-asked = { $task }
prompt-reminded = Um lembrete. { $task }
prompt-at_the_screen = { $light ->
    [dark] A imagem já está escura.
    [told] A imagem já deve estar escura: confirme antes de se aproximar.
   *[lit] Não foi possível escurecer a imagem: apague a luz do projetor ou não entre no feixe.
} { $task }
prompt-light_comes_back = Ainda está junto ao ecrã? A luz volta dentro de momentos: afaste-se ou peça mais tempo.

## What to take care of

caution-ready_first = Prima Pronto antes de ir: primeiro a imagem escurece.
caution-room_light = Deixe uma luz fraca acesa na sala e não apague as luzes de saída.
caution-no_if_busy = Prima Não se ninguém puder ir: a imagem fica como está.
caution-beam = Não entre no feixe de luz e nunca olhe para dentro da lente.
caution-two_people = Painéis grandes pedem duas pessoas, e nada pode ficar preso por um só gancho.
caution-done_when_away = Prima Feito quando já estiver longe do ecrã.
caution-done_or_no = Prima Feito quando já estiver longe do ecrã, ou Não se for impossível.
caution-light_returns = Se ninguém responder, a luz volta por si.

## What may be answered

choice-ready = Pronto
choice-done = Feito
choice-no = Não
choice-all_away = Ninguém está junto ao ecrã
choice-not_tonight = Esta noite não
choice-more_time = Mais tempo

## Why something is done, where no row of the room's rules says so

reason-person_asked = Alguém o pediu.
reason-chosen_last = Da última vez alguém escolheu assim.
reason-at_screen = Está alguém junto ao ecrã: nada pode encandear essa pessoa.
reason-menu = Os menus nunca são esticados.
reason-light_back = Já ninguém está junto ao ecrã: a luz volta.
reason-inside_panels = A imagem não passa por cima dos painéis.
reason-newer_picture = Uma imagem mais recente toma o seu lugar.
reason-newer_setting = Um ajuste mais recente toma o seu lugar.
reason-no_light = O projetor já não dá luz.
reason-technician = Está um técnico a trabalhar.
reason-panels_reported = Alguém disse como estão os painéis.
reason-answered_done = Alguém disse que está feito.
reason-answered_late = Alguém disse, um pouco tarde, que está feito.
reason-answered_no = Alguém disse que não.
reason-not_tonight = Alguém disse: esta noite não.
reason-nobody_free = Alguém disse que não há ninguém livre.
reason-all_away = Já ninguém está junto ao ecrã.
reason-not_wanted = Já não é preciso.
reason-not_answered = Ninguém respondeu.
reason-session_over = O serão terminou.

## Worth knowing

note-contradicts = Durante um título inteiro, dois aparelhos não concordaram sobre o formato da imagem: peça a alguém que veja isso.
note-cue_failed = { $named ->
    [yes] Isto não fez o que lhe foi pedido: { $what }.
   *[no] Alguma coisa na sala, como uma luz ou uma cortina, não fez o que lhe foi pedido.
}
note-override_ended = { $why ->
    [given_back] A sala volta a tratar da imagem.
    [time] O tempo terminou: a sala volta a tratar da imagem.
    [title] O que estava a passar terminou: a sala volta a tratar da imagem.
    [found] A lente foi encontrada: a sala volta a tratar da imagem.
    [not_found] Não foi possível encontrar a lente: a sala volta a tratar da imagem.
    [forgotten] A escolha está esquecida: a sala volta a tratar da imagem.
   *[session] O serão terminou: a sala volta a tratar da imagem.
}
note-override_begun = { $why ->
    [lens_moved] Alguém moveu a lente: fica onde a puseram.
    [undo] Alguém desfez a última mudança: volta a ficar como estava.
    [find_lens] Alguém mandou procurar a lente: ela vai para o seu lugar.
    [last_time] Fica como alguém escolheu da última vez.
   *[person] Alguém assumiu o comando: fica como essa pessoa quer.
}
note-lens_elsewhere = A lente não parou onde devia.
note-lens_lost = A lente não deu sinal: não se sabe onde está.
note-look_at_lens = A lente já se moveu muitas vezes: peça a alguém que veja se ainda está certa.
note-many_travels = A lente moveu-se muito esta noite: peça a alguém que veja o que a faz mover.
note-marked = Alguém disse que isto não estava bem.
note-picture_failed = Não foi possível pôr a imagem como devia ser.
note-recall_refused = Não foi possível mover a lente.
note-rules_circle = As regras da sala contradizem-se aqui. Por favor, avise quem preparou a sala.
note-rules_overlap = Duas regras da sala contradizem-se aqui. Por favor, avise quem preparou a sala.
note-title_remembered = A sala lembra-se da última vez e sabe como este é.
note-travel_repeated = A lente comunicou duas vezes o mesmo movimento: conta uma só vez.
note-nobody_free = Alguém disse que esta noite ninguém pode colocar painéis.

## Why something waits

hold-no_source = Ainda não está a passar nada.
hold-service = Está um técnico a trabalhar: tudo espera até o trabalho terminar.
hold-projector = O projetor não dá luz: tudo espera por ele.
hold-travelling = A lente está a mover-se: uma coisa de cada vez.
hold-at_screen = Está alguém junto ao ecrã: tudo espera por essa pessoa.
hold-paused = Está em pausa: durante uma pausa nada se move.
hold-lens_unknown = Não se sabe onde está a lente, por isso fica parada enquanto possa estar algo a passar.
hold-lens_nowhere = A lente não está no seu lugar, ou não se sabe onde está.
hold-panels = A lente espera, porque pode haver painéis no caminho.
hold-first_minutes = Já começou há algum tempo: a lente fica onde está até ao fim.
hold-per_title = A lente já se moveu o bastante para um filme.
hold-per_night = A lente já se moveu o bastante para uma noite.
hold-put_back = Alguém repôs a lente para imagens destas: fica assim esta noite.
hold-unreached = Da última vez a lente não chegou lá: tenta-se de novo quando algo mudar.
hold-asked = Alguém foi chamado a tratar dos painéis: a lente espera.
hold-circle = As regras da sala contradizem-se aqui: tudo espera até algo mudar.
hold-flash = A imagem acabou de mudar: um momento.
hold-linger = Espera-se um momento, para o caso de isto mudar outra vez.
hold-picture = Primeiro muda a imagem, depois move-se a lente.
hold-nearest = A imagem pedida não cabe aqui: é mostrada tal como foi feita.
hold-helper = De momento não há ninguém livre para colocar painéis.
hold-mid_title = Já começou há algum tempo: agora não se pede a ninguém que se levante.
hold-left_alone = Tudo fica como está, por isso não se ajusta a imagem, embora ninguém saiba qual está.
hold-menu = Um menu não se estica: a sua escolha vale quando algo começar a passar.
hold-travel_first = Primeiro move-se a lente, depois colocam-se os painéis.

## Why something was not taken

refusal-at_screen = Está alguém junto ao ecrã: fica escuro até essa pessoa dizer que terminou, ou até alguém dizer que já lá não está ninguém.
refusal-bad_room = O novo ficheiro da sala tem erros: fica o antigo.
refusal-beyond_frame = Essa informação não pode estar certa: nada mudou.
refusal-contract = Isso era para outra versão do roomcue: nada mudou.
refusal-format = Essa informação não pode estar certa: nada mudou.
refusal-malformed = Não foi possível perceber: nada mudou. Escolha entre o que é oferecido.
refusal-no_more_time = Já não há mais tempo para dar: a luz volta à hora que foi dita. Até lá, afaste-se do ecrã.
refusal-not_asked = Essa pergunta já terminou: nada mudou. Se ainda quiser os painéis, peça-os diretamente.
refusal-not_lost = A lente está onde deve ou a caminho: não há nada a procurar.
refusal-not_open = Isso já terminou: nada mudou.
refusal-not_remembered = A sala não se lembra disso: não há nada a esquecer.
refusal-not_shown = Agora está a passar outra coisa: nada mudou. Peça outra vez para o que está a passar.
refusal-nothing_to_undo = Nada se moveu que se possa repor. Escolha antes o que quer ver.
refusal-out_of_range = Isso não se pode escolher aqui: nada mudou. Escolha entre o que é oferecido.
refusal-redelivered = Isso já foi recebido.
refusal-repeated = Isso já foi recebido.
refusal-replaced = Chegou um ficheiro da sala mais recente: esse não é usado.
refusal-retained = Isso é demasiado antigo para contar: nada mudou. Se ainda o quiser, peça outra vez.
refusal-stale = Isso chega demasiado tarde: nada mudou. Se ainda o quiser, peça outra vez.
refusal-too_long = Era demasiado comprido: nada mudou. Diga-o em menos palavras.
refusal-unknown_name = Isso não é conhecido nesta sala: nada mudou. Escolha entre o que é oferecido.
refusal-unknown_topic = Isso não é conhecido nesta sala: nada mudou.

## What a reply says where nothing had to be decided

reply-stands = Já está assim.
reply-more_time = Agora há mais tempo.
reply-forgotten = Está esquecido: a sala volta a aprender.
reply-room_taken = O novo ficheiro da sala passa a ser usado.
reply-known = { $named ->
    [yes] Obrigado, fica registado. { $what }: { $value }.
   *[no] Obrigado, fica registado.
}
reply-noted = Obrigado, fica anotado para quem cuida da sala.

## What a reply says to whoever said it; others read that somebody did

reply-at_screen = Obrigado. Espere até a imagem estar escura.
reply-answered_done = Obrigado. A sala continua a partir daqui.
reply-answered_late = Obrigado. Veio um pouco tarde, mas conta na mesma.
reply-answered_no = Está bem: ninguém volta a ser chamado até isto terminar.
reply-not_tonight = Está bem: esta noite ninguém volta a ser chamado.
reply-all_away = Obrigado. Já ninguém está junto ao ecrã, por isso a luz pode voltar.
reply-nobody_free = Está bem: esta noite ninguém é chamado.
reply-override_begun = Como quiser: fica tudo como está agora.
reply-person_asked = Como quiser.

## What helps against what something waits for

help-no_source = Comece a ver alguma coisa ou escolha o que quer ver.
help-service = Pergunte a quem está a trabalhar quanto tempo falta.
help-projector = Ligue o projetor ou espere que aqueça.
help-travelling = Continua quando a lente chegar ao seu lugar.
help-at_screen = Quem está junto ao ecrã prime Feito, ou alguém confirma que já ninguém lá está.
help-paused = Continua quando voltar a passar ou quando for parado.
help-lens_unknown = Pare o que está a ver, ou envie a lente para um dos seus lugares com o comando do projetor.
help-lens_nowhere = Mande procurar a lente: ela vai para o seu lugar.
help-panels = Diga como estão os painéis ou peça que os retirem.
help-first_minutes = Peça-o diretamente ou espere até ao fim.
help-per_title = Peça-o diretamente ou espere pelo próximo filme.
help-per_night = Peça-o diretamente ou espere até amanhã.
help-put_back = Diga que a sala deve voltar a tratar da imagem.
help-unreached = Peça outra vez.
help-asked = Responda à pergunta sobre os painéis.
help-circle = Assuma o comando e avise quem preparou a sala.
help-flash = Continua por si dentro de momentos.
help-linger = Continua por si dentro de momentos.
help-picture = Continua por si dentro de momentos.
help-nearest = Escolha primeiro outro lugar da lente ou peça que retirem os painéis.
help-helper = Diga quando alguém puder tratar dos painéis, ou peça-os diretamente.
help-mid_title = Peça-o diretamente ou espere até ao fim.
help-left_alone = Escolha uma imagem ou deixe a sala decidir outra vez. Senão, é ajustada quando começar outra coisa.
help-menu = Continua quando alguma coisa estiver a passar.
help-travel_first = Continua quando a lente chegar ao seu lugar.

## What is wrong with roomcue itself

fault-disk_full = O disco do computador da sala está cheio: até haver espaço outra vez, a sala não faz nada do que lhe pedem.
fault-journal_unwritable = A sala não consegue escrever o seu diário: até voltar a conseguir, não faz nada do que lhe pedem.
fault-journal_damaged = O diário da sala está danificado: a sala continua, mas por favor avise quem cuida dela.
fault-broker_refuses = A sala não tem autorização para dizer tudo o que deve, por isso as suas ordens podem não chegar a ninguém: por favor avise quem cuida dela.

## What is put back

undo-panels = Pede-se a alguém que volte a pôr os painéis como estavam.
undo-picture = A imagem volta a ficar como estava.
undo-preset = A lente volta para onde estava.

## What comes next

next-cue = { $named ->
    [yes] { $what }: { $value }.
   *[no] Muda outra coisa na sala, como uma luz ou uma cortina.
}
next-goes_dark = A imagem escurece.
next-lens = A lente move-se.
next-lens_arrives = A lente chega ao seu lugar.
next-light_back = A luz volta.
next-nothing = Agora não acontece nada.
next-override_ends = A sala volta a tratar da imagem.
next-picture = A imagem muda.
next-prompt = Pede-se a alguém que trate dos painéis.
next-prompt_over = A pergunta sobre os painéis termina.
next-reminder = Há um lembrete sobre os painéis.
next-to_the_screen = Quem está pronto é chamado ao ecrã.
next-until_arrival = Fica assim até a lente chegar.
next-until_session = Fica assim até ao fim do serão.
next-until_time = Fica assim até à hora indicada.
next-until_title = Fica assim até isto terminar.
next-warning = Quem está junto ao ecrã é avisado de que a luz volta.

## What stands on the buttons and above the parts of the room's page

label-as_made = Original
label-automatic = Automático outra vez
label-cannot = Não é possível
label-cropped = Maior
label-default_part = Automático
label-do_it_anyway = Fazer mesmo assim
label-facts = Diga à sala
label-find_lens = Procurar a lente
label-free_again = Há alguém livre
label-guest = Convidado { $number }
label-hands = Deixar ou desfazer
label-lens_at = Outro zoom
label-leave_title = Deixar até isto terminar
label-leave_tonight = Deixar esta noite
label-light_back_in = A luz volta em
label-lights = Luzes e outras coisas
label-lines_below = Com legendas
label-link_enter = Abrir a página da sala
label-look_again = Ver outra vez
label-name_save = Guardar
label-name_yours = O seu nome: { $who }
label-no = Não
label-number_set = Definir
label-panels_off = Sem painéis
label-rooms = Salas
label-undo = Desfazer
label-undo_since = { $by ->
    [rules] Desfazer o que a sala mudou às { $time }
    [named] Desfazer o que { $who } mudou às { $time }
   *[person] Desfazer o que alguém mudou às { $time }
}
label-ways = À minha maneira
label-whole = Inteira
label-widened = Mais larga
label-with_panels = Com painéis
label-wrong = Isto não estava bem
label-yes = Sim

## What only the room's page says

page-answer_missing = Não veio resposta: veja como está antes de premir outra vez.
page-at_screen_of = { $who } está junto ao ecrã.
page-at_screen_unnamed = Está alguém junto ao ecrã.
page-at_screen_yours = Está agora junto ao ecrã.
page-cost_cut = Corta-se um pouco em cima e em baixo.
page-cost_lens = A lente move-se: { $seconds } segundos.
page-cost_people = Alguém vai ao ecrã.
page-cost_wider = Fica tudo um pouco mais largo.
page-file_new = A sala tem um ficheiro novo, que está a ser lido.
page-file_unreadable = A sala tem um ficheiro novo, que esta página não consegue ler. Peça a quem cuida da sala que reinicie a página, na mesma versão que o roomcue.
page-gone = O roomcue não responde. Era assim que estava às { $time }.
page-gone_faulty = { $words } Era assim que estava às { $time }.
page-is_paused = Em pausa: { $what }.
page-is_playing = A passar: { $what }.
page-is_stopped = Parou: { $what }.
page-is_unknown = Ninguém disse o que está a passar.
page-link_ask = Esta ligação é para { $who }. Só pode ser usada uma vez.
page-link_used = Esta ligação já não funciona. Peça uma nova a quem cuida da sala.
page-name_ask = Como se chama?
page-next = { $time }: { $words }
page-no_light_from_here = Nada aqui faz voltar a luz antes de { $who } o dizer.
page-no_room = Essa página não existe.
page-no_word = O roomcue não responde.
page-not_allowed = Não pode fazer isto daqui. Abra a página outra vez ou peça uma ligação.
page-only_if_you = Prima Feito só se for a pessoa que lá está.
page-page_lost = A página perdeu a ligação. Volta sozinha.
page-panels_free = Não há painéis colocados.
page-panels_on = Há painéis colocados.
page-panels_unknown = Não se sabe como estão os painéis.
page-seen_dark = A imagem está escura.
page-seen_ends = A imagem deixa livres a parte de cima e a de baixo.
page-seen_fills = A imagem enche o seu lugar.
page-seen_inside = A imagem deixa algum espaço a toda a volta.
page-seen_moving = A lente está a mover-se.
page-seen_nobody_knows = Ninguém disse como está a imagem.
page-seen_ordered = A imagem foi pedida, e ainda não veio resposta.
page-seen_sides = A imagem deixa os lados livres.
page-too_often = Foram vezes a mais: espere um momento.
page-wait_for_dark = Espere aqui até a imagem estar escura.
page-why_not = Porque não?

## O que está por cima das partes dos papéis, e nas suas tabelas

heading-by_itself = O que acontece sozinho
heading-care = Cuidado
heading-film = Filme
heading-kind_film = Filmes largos
heading-kind_scope = Filmes muito largos
heading-kind_series = Séries largas
heading-kind_square = Filmes antigos e televisão antiga
heading-kind_television = Séries, jogos e quase toda a televisão
heading-kind_widest = Os filmes mais largos
heading-kinds = Como se vê cada tipo de imagem
heading-lens = Lente
heading-light = Luz
heading-no = Como dizer não
heading-panels = Painéis
heading-pixels = Pormenor
heading-quote = O que dá cada maneira, e o que custa
heading-quote_narrower = { $kind }, formatos mais estreitos
heading-quote_nothing = Fica
heading-quote_own = Lugar próprio
heading-quote_wider = { $kind }, formatos mais largos
heading-stretch = Um filme, três maneiras: qual prefere?
heading-title = Como se porta o seu ecrã
heading-travel = Movimento
heading-width = Largura

## O que dizem os papéis que as famílias leem

paper-care_ladder = Para usar um escadote são precisas duas pessoas, com a luz do projetor apagada e nada perto do ar quente que ele sopra.
paper-care_trades = Fios, motores e o que pende do teto são para profissionais licenciados.
paper-ends_dark = O cimo e o fundo ficam escuros.
paper-fills = Enche o ecrã.
paper-frame_dark = Fica no meio, com escuro a toda a volta.
paper-games_alone = Nada se move enquanto isto está em uso: { $sources }.
paper-give_back = Prima Automático outra vez, e a sala volta a decidir.
paper-in_this_room = É assim que a sua sala o mostra.
paper-keep_it = Escolha outra imagem quando quiser; fica até terminar o que está a ver.
paper-lens_moves = Primeiro move-se a lente.
paper-lens_never = A lente fica onde está.
paper-lens_travels = No começo de um título a lente pode mover-se, de cada vez durante { $seconds } segundos no máximo. Movimentos por título, no máximo: { $count }.
paper-light_with_lens = Enquanto a lente se move a imagem é pequena; não é avaria.
paper-panels_asked = Perguntam-lhe antes de alguém ter de ir ao ecrã, e a imagem escurece primeiro.
paper-panels_fitted = Os painéis deixam os lados pretos.
paper-panels_refused = Sem painéis o filme vê-se na mesma, com cinzento em vez de preto ao lado.
paper-pause_waits = Uma pausa de menos de { $minutes } minutos não muda nada.
paper-picture_fits = A imagem encontra o seu lugar sozinha, segundos depois de mudar de forma.
paper-quote_detail_is = Pormenor é quantos pontos do projetor formam a imagem.
paper-quote_fixed = A lente fica onde está, e cada filme é encaixado.
paper-quote_light = De todas estas maneiras, só um zoom mais longo torna a imagem mais clara.
paper-quote_light_is = Luz é quão claro fica o branco no ecrã.
paper-quote_panels = Os painéis tapam o que a imagem deixa livre, para ser preto e não cinzento. A tabela diz que parte do ecrã é essa.
paper-quote_presets = A lente vai para o lugar que mostra melhor cada filme.
paper-quote_time = Cada movimento leva até { $seconds } segundos, no começo de um filme.
paper-quote_walk = Para pôr painéis, alguém tem de ir até ao ecrã.
paper-quote_wear = Cada movimento gasta um pouco a lente. Vê-se duas vezes por ano, e acerta-se quando fugiu do lugar.
paper-say_no = A cada pergunta pode responder Não, e o silêncio também é resposta: a imagem fica como está.
paper-sides_dark = Os lados ficam escuros.
paper-stretch_cropped = Aumentado. Tudo mantém a sua forma, e corta-se um pouco em cima e em baixo.
paper-stretch_plain = Como foi feito. Os lados ficam escuros.
paper-stretch_stretched = Alargado para os lados. O que é redondo fica redondo no meio e mais largo nos lados.
paper-stretch_whole = O quadro inteiro, com as suas barras escuras. Nada se perde, e é o mais pequeno.
